"""What is cut with what: the operations of a setup, and what lots of them took."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core import planning
from shopflow.jobs.models.routing import Step
from shopflow.jobs.models.setups import Setup
from shopflow.shop.fields import MeasureField
from shopflow.shop.models import Machine, Tool

KINDS = [(kind.value, _(kind.value)) for kind in planning.OperationKind]


class Operation(models.Model):
    """One thing that one tool does in a setup. `fixed` names the fields that a person typed.

    key: names it when the plan is proposed again; "" where a person added it. wanted: the tool that would do, where
    the crib has none. facts: what speed and minutes follow from (core.planning.operations.FACTS). feed: a minute.
    peck_first, peck_next: empty where it is done in one go.
    """

    setup = models.ForeignKey(Setup, models.CASCADE, related_name="operations")
    position = models.PositiveSmallIntegerField(_("place"), default=0)
    key = models.CharField(max_length=120, blank=True, editable=False)
    kind = models.CharField(_("what is done"), max_length=24, choices=KINDS)
    what = models.CharField(_("to what"), max_length=200)
    tool = models.ForeignKey(Tool, models.PROTECT, null=True, blank=True, related_name="+", verbose_name=_("tool"))
    wanted = models.CharField(max_length=200, blank=True, editable=False)
    rpm = models.PositiveIntegerField(_("rpm"), null=True, blank=True)
    feed = MeasureField(_("feed a minute"))
    peck_first = MeasureField(_("first peck"))
    peck_next = MeasureField(_("next pecks"))
    axial = MeasureField(_("depth of a pass"))
    radial = MeasureField(_("width of a pass"))
    minutes = models.DecimalField(_("minutes"), max_digits=8, decimal_places=2, null=True, blank=True)
    source = models.CharField(max_length=400, blank=True, editable=False)
    limits = models.CharField(max_length=200, blank=True, editable=False)
    facts = models.JSONField(default=dict, blank=True, editable=False)
    fixed = models.JSONField(default=list, blank=True, editable=False)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.what}"

    def as_core(self) -> planning.Operation:
        """The core's operation with today's tool, without speed and minutes."""
        tool = self.tool.as_core() if self.tool else None
        facts: dict[str, Any] = self.facts
        return planning.Operation(planning.OperationKind(self.kind), self.key, self.what, tool, **facts)


class SetUpTaken(models.Model):
    """Minutes that setting up took once, with what was planned for it then. lot: the floor's number of the lot.

    held: what the part was held in (planning.Held). planned: before any correction.
    """

    step = models.ForeignKey(Step, models.CASCADE, related_name="set_ups_taken")
    lot = models.PositiveIntegerField()
    held = models.CharField(max_length=20)
    planned = models.DecimalField(max_digits=8, decimal_places=2)
    actual = models.DecimalField(max_digits=8, decimal_places=2)
    noted_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-noted_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.step} {self.actual}"


class TimeTaken(models.Model):
    """Minutes a piece that a lot took at an op, with what was planned for it then.

    group: of the work material, as the table of materials says it. lot: the floor's number of the lot.
    """

    step = models.ForeignKey(Step, models.CASCADE, related_name="times_taken")
    lot = models.PositiveIntegerField()
    machine = models.ForeignKey(Machine, models.PROTECT, related_name="+")
    group = models.CharField(max_length=40, blank=True)
    pieces = models.PositiveIntegerField()
    planned = models.DecimalField(max_digits=8, decimal_places=2, null=True)
    actual = models.DecimalField(max_digits=8, decimal_places=2)
    noted_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["-noted_at"]
        constraints = [models.UniqueConstraint(fields=["step", "lot"], name="one_time_of_a_lot_at_an_op")]

    def __str__(self) -> str:
        return f"{self.step} {self.actual}"
