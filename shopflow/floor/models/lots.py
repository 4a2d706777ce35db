"""Lots, and where their pieces stand."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core.quality.heats import HeatShare, read_heats
from shopflow.jobs.models import Job, Step
from shopflow.records.models import LedgerRow


class Lot(models.Model):
    """Pieces of a job that travel together. A lot that splits gives part of its pieces to a new one (parent).

    split_at, split_step: when and at which step its pieces stood when they left the parent.
    """

    job = models.ForeignKey(Job, models.PROTECT, related_name="lots")
    number = models.PositiveSmallIntegerField()
    parent = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="+")
    split_at = models.DateTimeField(null=True, blank=True)
    split_step = models.ForeignKey(Step, models.PROTECT, null=True, blank=True, related_name="+")
    heat_number = models.CharField(max_length=60, blank=True)
    released = models.PositiveIntegerField(default=0)
    added = models.PositiveIntegerField(default=0)
    given = models.PositiveIntegerField(default=0, help_text="pieces that a split gave to other lots")

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="lots_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job}/{self.number}"

    @property
    def heats(self) -> list[HeatShare]:
        """One as a rule; several where nobody parted its pieces by heat."""
        return read_heats(self.heat_number)

    @property
    def with_ancestors(self) -> list[int]:
        """The lot and those that it was split from, by id: what they ran is what its pieces are made by."""
        found, one = [self.pk], self
        while one.parent is not None:
            one = one.parent
            found.append(one.pk)
        return found


class Place(models.TextChoices):
    """Where pieces of a lot are counted."""

    STEP = "step", _("at a step")
    HELD = "held", _("held")
    OUTSIDE = "outside", _("outside")
    SCRAPPED = "scrapped", _("scrapped")
    LOST = "lost", _("lost")
    SHIPPED = "shipped", _("shipped")


class Standing(models.Model):
    """How many pieces of a lot are at one place; derived from the ledger, kept so that pages stay fast.

    step is where they stand, were scrapped or lost, or from where they left.

    Every report takes from one row and gives to another (floor.actions), so the sum over a lot is always
    released + added − given.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="standings")
    place = models.CharField(max_length=10, choices=Place.choices)
    step = models.ForeignKey(Step, models.PROTECT, related_name="standings")
    quantity = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["lot", "place", "step"], name="one_standing_a_place")]

    def __str__(self) -> str:
        return f"{self.lot}: {self.quantity} {self.place}"


class Remark(models.Model):
    """What a person typed with a report; kept beside the ledger row, so that it can be erased where it must be."""

    row = models.OneToOneField(LedgerRow, models.PROTECT, related_name="remark")
    text = models.CharField(max_length=500)

    def __str__(self) -> str:
        return self.text
