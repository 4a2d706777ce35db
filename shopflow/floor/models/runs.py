"""Ops of lots as they are set up and run."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone

from shopflow.floor.models.lots import Lot
from shopflow.jobs.models import Step
from shopflow.shop.models import Machine


class OpRun(models.Model):
    """One op of one lot being worked on at one machine: from start to finish, with its first piece."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="runs")
    step = models.ForeignKey(Step, models.PROTECT, related_name="runs")
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, blank=True, related_name="+")
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    program_compared = models.CharField(max_length=200, blank=True)
    first_piece_at = models.DateTimeField(null=True, blank=True)
    first_piece_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    edges_signed_at = models.DateTimeField(null=True, blank=True)
    edges_signed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    # The newest moment at which somebody said that the program was changed at the control.
    changed_at = models.DateTimeField(null=True, blank=True)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    finished_at = models.DateTimeField(null=True, blank=True)
    finished_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["lot", "step"], condition=models.Q(finished_at__isnull=True), name="one_open_run_of_an_op"
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot} {self.step}"

    @property
    def is_open(self) -> bool:
        return self.finished_at is None


class SettingUp(models.Model):
    """An op of a lot being set up at a machine: from when somebody said so until the op starts."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="settings_up")
    step = models.ForeignKey(Step, models.PROTECT, related_name="settings_up")
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, blank=True, related_name="+")
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    run = models.OneToOneField(OpRun, models.PROTECT, null=True, blank=True, related_name="setting_up")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["lot", "step"], condition=models.Q(run__isnull=True), name="one_open_setting_up_of_an_op"
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot} {self.step}"

    @property
    def is_of_another_day(self) -> bool:
        """Whether it began on another day than today, by the shop's calendar: what it takes then says nothing."""
        return timezone.localdate(self.begun_at) != timezone.localdate()
