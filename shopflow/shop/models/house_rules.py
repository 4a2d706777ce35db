"""The limits that the shop set itself, and who changed them."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.records.protect import append_only


class HouseRule(models.Model):
    """A limit the shop set itself; rules without a row stand at their default (core.review.house_rules)."""

    key = models.CharField(max_length=60, unique=True)
    value = models.CharField(_("value"), max_length=60)

    def __str__(self) -> str:
        return f"{self.key} = {self.value}"


@append_only
class HouseRuleChange(models.Model):
    """Who changed a rule, from what to what, and why; rows are only added. Empty before or after: the default."""

    key = models.CharField(max_length=60)
    before = models.CharField(max_length=60, blank=True)
    after = models.CharField(max_length=60, blank=True)
    reason = models.CharField(_("reason"), max_length=300)
    changed_at = models.DateTimeField(auto_now_add=True)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["key"])]

    def __str__(self) -> str:
        return f"{self.key}: {self.before} → {self.after}"
