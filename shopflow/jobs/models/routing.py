"""The routing that the setups belong to, what is measured along it, and who approved it all."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core.quality.kinds import Kind
from shopflow.core.quality.sampling import SamplingRule, read_rule
from shopflow.jobs.models.orders import Job
from shopflow.jobs.models.setups import Setup
from shopflow.records.protect import append_only
from shopflow.shop.fields import MeasureField
from shopflow.shop.models import Gauge


class Step(models.Model):
    """One line of the routing."""

    class Kind(models.TextChoices):
        SAW = "saw", _("saw")
        MILL = "mill", _("mill")
        DEBURR = "deburr", _("deburr")
        INSPECT = "inspect", _("inspect")
        OUTSIDE = "outside", _("outside")
        OTHER = "other", _("other")
        SHIP = "ship", _("ship")

    job = models.ForeignKey(Job, models.CASCADE, related_name="steps")
    op_number = models.PositiveSmallIntegerField(_("op"))
    kind = models.CharField(_("kind"), max_length=8, choices=Kind.choices)
    title = models.CharField(_("title"), max_length=120)
    instructions = models.TextField(_("instructions"), blank=True)
    setup = models.OneToOneField(Setup, models.CASCADE, null=True, blank=True, related_name="step")
    minutes_each = models.DecimalField(_("minutes a piece"), max_digits=8, decimal_places=2, null=True, blank=True)
    minutes_setup = models.DecimalField(_("set-up minutes"), max_digits=8, decimal_places=2, null=True, blank=True)
    first_piece = models.BooleanField(_("first piece is accepted before the rest"), default=False)
    fixed = models.JSONField(default=list, blank=True, editable=False)

    class Meta:
        ordering = ["op_number"]
        constraints = [models.UniqueConstraint(fields=["job", "op_number"], name="op_numbers_differ")]

    def __str__(self) -> str:
        return f"op {self.op_number} {self.title}"


CHARACTERISTIC_KINDS = [(kind.value, _(kind.value)) for kind in Kind if kind is not Kind.SIZE]


class Characteristic(models.Model):
    """Something to be measured: a balloon number, limits in the drawing's unit, the step where it is measured."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="characteristics")
    number = models.PositiveSmallIntegerField(_("balloon"))
    name = models.CharField(_("characteristic"), max_length=120)
    kind = models.CharField(_("kind"), max_length=16, choices=CHARACTERISTIC_KINDS, blank=True)
    nominal = MeasureField(_("nominal"), any_quantity=True)
    lower = MeasureField(_("lower limit"), any_quantity=True)
    upper = MeasureField(_("upper limit"), any_quantity=True)
    step = models.ForeignKey(Step, models.SET_NULL, null=True, blank=True, related_name="characteristics")
    gauge = models.ForeignKey(Gauge, models.PROTECT, null=True, blank=True, verbose_name=_("gauge"))
    note = models.CharField(_("note"), max_length=120, blank=True)
    sampling = models.CharField(_("pieces"), max_length=24, blank=True)
    """Which pieces are measured, as core.quality.sampling writes it; "" for one of the lot."""
    view = models.CharField(max_length=10, blank=True)
    """The view of the model's drawing that its balloon points into; "" where it was not placed."""
    across = models.FloatField(null=True, blank=True)
    down = models.FloatField(null=True, blank=True)
    """Where in that view, as shares of its width and height from the upper left."""

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="balloons_differ")]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"

    @property
    def as_kind(self) -> Kind:
        return Kind(self.kind)

    @property
    def rule(self) -> SamplingRule:
        return read_rule(self.sampling)


@append_only
class PlanApproval(models.Model):
    """A person approved the plan as it was. It holds while the plan's hash is still this one; rows are only added."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="plan_approvals")
    plan_hash = models.CharField(max_length=64)
    approved_at = models.DateTimeField(auto_now_add=True)
    approved_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.job} plan {self.plan_hash[:12]}"
