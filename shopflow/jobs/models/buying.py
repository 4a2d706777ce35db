"""Tools on order: what the shop waits for, and whether plans may count on it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.shop.models import Tool


class ToolOrder(models.Model):
    """One tool that is on order. It serves every plan that waits for the same.

    what: as the plans say it. tool: its row in the crib, once it has one. accepted_by: the lead who said that plans may
    count on its day. received_on: the day it came; while it is empty the order is open.
    """

    what = models.CharField(_("tool"), max_length=200)
    tool = models.ForeignKey(Tool, models.SET_NULL, null=True, blank=True, related_name="+")
    supplier = models.CharField(_("supplier"), max_length=120, blank=True)
    ordered_on = models.DateField(_("ordered"))
    due_on = models.DateField(_("comes"))
    ordered_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    accepted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    accepted_at = models.DateTimeField(null=True, blank=True)
    received_on = models.DateField(null=True, blank=True)
    received_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["due_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["what"], condition=models.Q(received_on__isnull=True), name="one_open_order_of_a_tool"
            )
        ]

    def __str__(self) -> str:
        return self.what

    @property
    def is_open(self) -> bool:
        return self.received_on is None
