"""What was released to the floor, and where its pieces stand."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core.quality.heats import HeatShare, read_heats
from shopflow.jobs.models import Job, Step
from shopflow.programs.models import ProgramRevision, SignOff
from shopflow.records.models import LedgerRow, StoredFile
from shopflow.records.protect import append_only
from shopflow.shop.fields import MeasureField
from shopflow.shop.models import Machine


class Packet(models.Model):
    """What a release puts on the floor: the traveler and the floor copies. A newer packet supersedes an older one."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="packets")
    number = models.PositiveSmallIntegerField()
    content_hash = models.CharField(max_length=64)
    traveler = models.ForeignKey(StoredFile, models.PROTECT, null=True, related_name="+")
    traveler_work = models.ForeignKey("records.Work", models.SET_NULL, null=True, related_name="+")
    released_at = models.DateTimeField(auto_now_add=True)
    released_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="packets_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job} packet {self.number}"


class FloorCopy(models.Model):
    """The exact bytes that go to a machine, proved to move as the signed revision does.

    The prove-out copy has an optional stop (M01) before each further tool, for the first piece; the lot copy has none.
    """

    class Use(models.TextChoices):
        LOT = "lot", _("for the lot")
        PROVE_OUT = "prove-out", _("to prove out")

    packet = models.ForeignKey(Packet, models.PROTECT, related_name="floor_copies")
    revision = models.ForeignKey(ProgramRevision, models.PROTECT, related_name="+")
    sign_off = models.ForeignKey(SignOff, models.PROTECT, related_name="+")
    stored = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    name = models.CharField(max_length=80)
    use = models.CharField(max_length=10, choices=Use.choices, default=Use.LOT)

    class Meta:
        ordering = ["name", "use"]

    def __str__(self) -> str:
        return self.name

    @property
    def file_name(self) -> str:
        """A name that any control and any browser takes: letters, digits, point, dash."""
        kept = "".join(c if c.isascii() and (c.isalnum() or c in ".-_") else "-" for c in self.name)
        stem, point, ending = kept.rpartition(".") if "." in kept else (kept, ".", "nc")
        return f"{stem}{'-prove-out' if self.is_prove_out else ''}{point}{ending}"

    @property
    def is_prove_out(self) -> bool:
        return self.use == self.Use.PROVE_OUT


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


class Shipment(models.Model):
    """Pieces that left for the customer."""

    job = models.ForeignKey(Job, models.PROTECT, related_name="shipments")
    number = models.PositiveSmallIntegerField()
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="shipments")
    quantity = models.PositiveIntegerField()
    note = models.CharField(max_length=200, blank=True)
    shipped_at = models.DateTimeField(auto_now_add=True)
    shipped_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="shipments_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job} shipment {self.number}"


class Paper(models.Model):
    """A paper of a job beside its traveler, kept by the hash of its bytes. A newer one of its kind about the same
    shipment or lot supersedes it.

    chosen: what the person who asked for it chose (the piece of a first article, how many labels). content_hash: of
    all that it says (papers), so that a scan can tell whether the records still say the same.
    """

    class Kind(models.TextChoices):
        CERTIFICATE = "certificate", _("certificate of conformance")
        PACKING_SLIP = "packing-slip", _("packing slip")
        LABELS = "labels", _("labels")
        FIRST_ARTICLE = "first-article", _("first-article report")
        INSPECTION = "inspection", _("inspection report")

    job = models.ForeignKey(Job, models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=15, choices=Kind.choices)
    number = models.PositiveSmallIntegerField()
    shipment = models.ForeignKey(Shipment, models.PROTECT, null=True, related_name="papers")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="papers")
    chosen = models.JSONField(default=dict)
    content_hash = models.CharField(max_length=64, blank=True)
    stored = models.ForeignKey(StoredFile, models.PROTECT, null=True, related_name="+")
    work = models.ForeignKey("records.Work", models.SET_NULL, null=True, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        constraints = [models.UniqueConstraint(fields=["job", "kind", "number"], name="papers_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job} {self.get_kind_display()} {self.number}"
