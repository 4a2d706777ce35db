"""What a job's blanks come from: bars of the rack, or blanks that the customer sends."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.jobs.models.orders import Job
from shopflow.shop.fields import MeasureField
from shopflow.shop.models import StockBar


class BarPick(models.Model):
    """Bars that are cut alike for a job: reserved on the rack, or to be bought; off the rack once sawn."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="bar_picks")
    bar = models.ForeignKey(StockBar, models.PROTECT, related_name="picks", verbose_name=_("bar"))
    bars = models.PositiveSmallIntegerField(_("bars"))
    pieces = models.PositiveIntegerField(_("pieces"))
    """Of all these bars together."""
    along = models.PositiveSmallIntegerField()
    thick = models.PositiveSmallIntegerField()
    """The model's axes (0, 1, 2) along the bar and across its thickness."""
    blank_x = MeasureField(_("blank X"))
    blank_y = MeasureField(_("blank Y"))
    blank_z = MeasureField(_("blank Z"))
    left = MeasureField(_("remnant of each"))
    after = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="behind")
    """Whose pieces are sawn off the same bars before; none where they are the first, or once those are sawn."""
    used = models.FloatField(null=True, blank=True)
    """The share of one bar (0 to 1) that is used up for it; none where nobody reckoned it."""
    to_buy = models.BooleanField(_("to be bought"), default=False)
    sawn_at = models.DateTimeField(null=True, blank=True)
    sawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    remnant = models.ForeignKey(StockBar, models.SET_NULL, null=True, blank=True, related_name="+")
    """The row that its remnants stand in on the rack."""

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["bar", "sawn_at"])]

    def __str__(self) -> str:
        return f"{self.bars} × {self.bar}"

    @property
    def cost(self) -> float | None:
        """Its share of the price of its bars; None where the price is not known."""
        if self.used is None or self.bar.price is None:
            return None
        return float(self.bar.price) * self.bars * self.used

    @property
    def is_sawn(self) -> bool:
        return self.sawn_at is not None


class SuppliedBlanks(models.Model):
    """Blanks that the customer sends: counted in, without spares, and what is left goes back."""

    job = models.OneToOneField(Job, models.CASCADE, related_name="supplied")
    counted = models.PositiveIntegerField(_("counted in"), null=True, blank=True)
    counted_at = models.DateTimeField(null=True, blank=True)
    counted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    drops = models.CharField(_("what went back, and how"), max_length=200, blank=True)
    returned = models.PositiveIntegerField(_("how many went back"), null=True, blank=True)
    """Blanks that were not cut, and ends."""
    returned_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.job}: {self.counted}"
