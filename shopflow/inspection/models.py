"""Measurements against limits, and what becomes of pieces that miss them."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopflow.core.quality.sampling import Plan, Severity
from shopflow.floor.models import Lot
from shopflow.inspection.limits import Limits
from shopflow.jobs.models import Characteristic, Part
from shopflow.records.protect import append_only
from shopflow.shop.fields import MeasureField
from shopflow.shop.models import Gauge


@append_only
class Measurement(models.Model):
    """One value of one characteristic of one piece, as typed; rows are only added, the newest of a piece counts.

    conforms: of an attribute, which has no value.
    """

    characteristic = models.ForeignKey(Characteristic, models.PROTECT, related_name="measurements")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="measurements")
    piece = models.PositiveIntegerField(_("piece"))
    value = MeasureField(_("measured"), any_quantity=True)
    conforms = models.BooleanField(null=True)
    gauge = models.ForeignKey(Gauge, models.PROTECT, null=True, blank=True, related_name="+")
    measured_at = models.DateTimeField(auto_now_add=True)
    measured_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["lot", "characteristic", "piece"])]

    def __str__(self) -> str:
        return f"{self.characteristic} piece {self.piece}: {self.text}"

    @property
    def text(self) -> str:
        """As typed; of an attribute yes or no."""
        if self.value is not None:
            return self.value.text
        return "" if self.conforms is None else gettext("yes") if self.conforms else gettext("no")

    def is_within(self, limits: Limits) -> bool:
        """Whether the piece is good here."""
        return bool(self.conforms) if self.value is None else limits.allow(self.value)


@append_only
class GaugeTaken(models.Model):
    """Another gauge than the plan's, for a characteristic of a lot from then on; the newest counts."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+")
    characteristic = models.ForeignKey(Characteristic, models.PROTECT, related_name="+")
    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(auto_now_add=True)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.characteristic} with {self.gauge}"


class Nonconformance(models.Model):
    """A piece that misses a limit or was found bad; open until it has a disposition. It follows its piece (Placing)."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="nonconformances")
    piece = models.PositiveIntegerField(_("piece"), null=True, blank=True)
    characteristic = models.ForeignKey(Characteristic, models.PROTECT, null=True, blank=True, related_name="+")
    text = models.CharField(_("what was found"), max_length=300)
    raised_at = models.DateTimeField(auto_now_add=True)
    raised_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.text


@append_only
class Placing(models.Model):
    """In which of two lots the piece of a nonconformance is, said after one was split off the other; the newest counts.

    split_lot: the lot that was split off. went: whether the piece is in it, and not in the lot that it came from.
    """

    nonconformance = models.ForeignKey(Nonconformance, models.PROTECT, related_name="placings")
    split_lot = models.ForeignKey(Lot, models.PROTECT, related_name="+")
    went = models.BooleanField()
    said_at = models.DateTimeField(auto_now_add=True)
    said_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.nonconformance}: {'in' if self.went else 'not in'} {self.split_lot}"


@append_only
class Disposition(models.Model):
    """What was decided about a nonconformance; rows are only added, the newest counts."""

    class Verdict(models.TextChoices):
        USE_AS_IS = "use as is", _("use as is")
        REWORK = "rework", _("rework")
        SCRAP = "scrap", _("scrap")
        RETURN = "return", _("return to the customer")

    nonconformance = models.ForeignKey(Nonconformance, models.PROTECT, related_name="dispositions")
    verdict = models.CharField(max_length=10, choices=Verdict.choices)
    reason = models.CharField(_("reason"), max_length=300)
    customer_told = models.CharField(_("how the customer was told"), max_length=200, blank=True)
    decided_at = models.DateTimeField(auto_now_add=True)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.verdict


SEVERITIES = [
    (Severity.NORMAL.value, _("normal")),
    (Severity.TIGHTENED.value, _("tightened")),
    (Severity.REDUCED.value, _("reduced")),
    (Severity.STOPPED.value, _("discontinued")),
]


@append_only
class SampleResult(models.Model):
    """What the sample of a lot said of one characteristic at its first inspection; rows are only added.

    part, name, rule: which lots follow one another (core.quality.switching), over all orders of the part.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="sample_results")
    characteristic = models.ForeignKey(Characteristic, models.PROTECT, related_name="sample_results")
    part = models.ForeignKey(Part, models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    rule = models.CharField(max_length=24)
    severity = models.CharField(max_length=12, choices=SEVERITIES)
    measured = models.PositiveIntegerField()
    missed = models.PositiveIntegerField()
    is_accepted = models.BooleanField()
    accepted_between = models.BooleanField(default=False)
    letter = models.CharField(max_length=1, blank=True)
    lot_size = models.PositiveIntegerField(null=True)
    size = models.PositiveIntegerField(null=True)
    accept = models.PositiveIntegerField(null=True)
    reject = models.PositiveIntegerField(null=True)
    """The plan that decided, so that a report says the same of it ever after; empty in rows from before it was kept."""
    decided_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["part", "name", "rule"])]
        constraints = [models.UniqueConstraint(fields=["lot", "characteristic"], name="one_sample_result_of_a_lot")]

    def __str__(self) -> str:
        return f"{self.lot} {self.name}: {self.missed} of {self.measured}"

    @property
    def plan(self) -> Plan | None:
        """None in rows from before it was kept."""
        if self.size is None or self.accept is None or self.reject is None:
            return None
        return Plan(self.letter, self.size, self.accept, self.reject - self.accept - 1, Severity(self.severity))


@append_only
class SeveritySaid(models.Model):
    """How strict a person wants a characteristic of a part sampled from now on, and why; the newest word counts."""

    part = models.ForeignKey(Part, models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    rule = models.CharField(max_length=24)
    severity = models.CharField(_("inspection"), max_length=12, choices=SEVERITIES)
    reason = models.CharField(_("reason"), max_length=300)
    said_at = models.DateTimeField(auto_now_add=True)
    said_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["part", "name", "rule"])]

    def __str__(self) -> str:
        return f"{self.name}: {self.severity}"
