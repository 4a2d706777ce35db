"""What came back from the controls."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.floor.models.lots import Lot
from shopflow.floor.models.packets import FloorCopy
from shopflow.jobs.models import Step
from shopflow.programs.models import ProgramRevision
from shopflow.records.models import StoredFile


class ReadBack(models.Model):
    """A program as it came back from the control, compared by meaning with the floor copy that was nearest to it.

    handling: what was found, and who looks at it (core.nc.read_back). changes: [{kind, before, after}], lines as pairs
    of number and text, the first of them (comparing.MOST_KEPT); counts: all of them by kind. looks: lines that only
    look different. work: the comparison, while a worker does it or could not. accepted: by whoever runs the machine.
    verdict: of a reviewer; revision: what it was taken as.
    """

    class Handling(models.TextChoices):
        PENDING = "pending", _("being compared")
        NONE = "none", _("no change")
        ACCEPT = "accept", _("small change")
        REVIEW = "review", _("to be reviewed first")

    class Verdict(models.TextChoices):
        TAKEN = "taken", _("taken as a new revision")
        REFUSED = "refused", _("refused")

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="read_backs")
    step = models.ForeignKey(Step, models.PROTECT, related_name="read_backs")
    floor_copy = models.ForeignKey(FloorCopy, models.PROTECT, related_name="read_backs")
    stored = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    name = models.CharField(max_length=200)
    handling = models.CharField(max_length=10, choices=Handling.choices)
    changes = models.JSONField(default=list)
    counts = models.JSONField(default=dict)
    looks = models.PositiveIntegerField(default=0)
    work = models.ForeignKey("records.Work", models.SET_NULL, null=True, blank=True, related_name="+")
    note = models.CharField(max_length=500, blank=True)
    sent_at = models.DateTimeField(auto_now_add=True)
    sent_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    accepted_note = models.CharField(max_length=500, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    verdict = models.CharField(max_length=10, choices=Verdict.choices, blank=True)
    reason = models.CharField(max_length=500, blank=True)
    judged_at = models.DateTimeField(null=True, blank=True)
    judged_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    revision = models.ForeignKey(ProgramRevision, models.PROTECT, null=True, blank=True, related_name="+")
    program_of = models.ForeignKey(Step, models.PROTECT, null=True, blank=True, related_name="+")
    """Another op of the job whose floor copy it is, to the meaning or nearly; None where it is this op's."""

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.lot} {self.step}: {self.get_handling_display()}"

    @property
    def is_judged(self) -> bool:
        return bool(self.verdict)

    @property
    def is_being_compared(self) -> bool:
        """Whether a worker still finds out what was changed; one that gave up leaves it to the reviewer."""
        return self.handling == self.Handling.PENDING and self.work is not None and self.work.unfinished

    @property
    def waits_for_a_reviewer(self) -> bool:
        return self.handling != self.Handling.NONE and not self.verdict and not self.is_being_compared

    @property
    def may_be_accepted(self) -> bool:
        """Whether it waits for whoever runs the machine."""
        return self.handling == self.Handling.ACCEPT and self.accepted_at is None and not self.verdict
