"""Measuring instruments."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core.measure import NotALength
from shopflow.shop.fields import MeasureField


class Gauge(models.Model):
    """A measuring instrument. resolution: the smallest step it shows. smallest, largest: what it reaches."""

    number = models.CharField(_("number"), max_length=30, unique=True)
    name = models.CharField(_("name"), max_length=120)
    resolution = MeasureField(_("resolution"), any_quantity=True)
    smallest = MeasureField(_("measures from"), any_quantity=True)
    largest = MeasureField(_("measures to"), any_quantity=True)
    calibrated_until = models.DateField(_("in calibration until"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"

    def clean(self) -> None:
        """Refuse a gauge that measures to less than it measures from."""
        if not self.smallest or not self.largest:
            return
        try:
            is_crossed = self.smallest.in_unit(self.largest.unit) > self.largest.value
        except NotALength as refusal:
            raise ValidationError({"largest": str(refusal)}) from refusal
        if is_crossed:
            raise ValidationError({"largest": _("It measures to less than it measures from.")})
