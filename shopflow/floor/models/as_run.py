"""What the floor set for a lot."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.floor.models.lots import Lot
from shopflow.jobs.models import Step
from shopflow.records.models import LedgerRow, StoredFile
from shopflow.records.protect import append_only
from shopflow.shop.fields import MeasureField
from shopflow.shop.models import Machine


@append_only
class AsRun(models.Model):
    """What the floor set for a lot at an op: the part zero in machine coordinates, overrides, tools, a photo.

    Rows are only added; what was set later stands beside what was set before. Overrides are in percent.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="as_run")
    step = models.ForeignKey(Step, models.PROTECT, related_name="as_run")
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, blank=True, related_name="+")
    offset = models.CharField(_("work offset"), max_length=20, blank=True)
    offset_x = MeasureField(_("X"))
    offset_y = MeasureField(_("Y"))
    offset_z = MeasureField(_("Z"))
    rapid_override = models.PositiveSmallIntegerField(_("rapid"), null=True, blank=True)
    feed_override = models.PositiveSmallIntegerField(_("feed"), null=True, blank=True)
    spindle_override = models.PositiveSmallIntegerField(_("spindle"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=500, blank=True)
    photo = models.ForeignKey(StoredFile, models.PROTECT, null=True, blank=True, related_name="+")
    row = models.OneToOneField(LedgerRow, models.PROTECT, related_name="as_run")
    noted_at = models.DateTimeField()
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.lot} {self.step}: as run"

    @property
    def offsets(self) -> list[tuple[str, object]]:
        """The axes that were noted, each with what was typed."""
        typed = (("X", self.offset_x), ("Y", self.offset_y), ("Z", self.offset_z))
        return [(axis, value) for axis, value in typed if value is not None]

    @property
    def overrides(self) -> list[tuple[str, int]]:
        """The overrides that were noted, by name, in percent."""
        noted = (
            (_("rapid"), self.rapid_override), (_("feed"), self.feed_override), (_("spindle"), self.spindle_override),
        )  # fmt: skip
        return [(str(name), percent) for name, percent in noted if percent is not None]


@append_only
class AsRunTool(models.Model):
    """One tool as it was measured and corrected for a lot: length, and what stands in its wear offsets."""

    as_run = models.ForeignKey(AsRun, models.PROTECT, related_name="tools")
    number = models.PositiveIntegerField()
    length = MeasureField(_("measured length"))
    length_wear = MeasureField(_("wear, length"))
    diameter_wear = MeasureField(_("wear, diameter"))

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"T{self.number} {self.length or ''}"
