"""What a customer ordered, and the plan to make it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from shopflow.core.measure import Measure
from shopflow.core.quality.sampling import SamplingRule, read_rule
from shopflow.jobs.operation_model import Operation as Operation
from shopflow.jobs.operation_model import TimeTaken as TimeTaken
from shopflow.jobs.stock_models import BarPick as BarPick
from shopflow.jobs.stock_models import SuppliedBlanks as SuppliedBlanks
from shopflow.records.models import StoredFile, Work
from shopflow.records.protect import append_only
from shopflow.shop.fields import MeasureField
from shopflow.shop.models import Fixture, Gauge, Machine, Material, Tool


class Stage(models.TextChoices):
    """Where a job stands up to its release; from then on its pieces stand at steps (floor)."""

    INTAKE = "intake", _("intake")
    PLAN = "plan", _("plan")
    REVIEW = "review", _("program review")
    RELEASE = "release", _("release")
    FLOOR = "floor", _("on the floor")
    CLOSED = "closed", _("closed")


class Customer(models.Model):
    name = models.CharField(_("name"), max_length=120, unique=True)
    address = models.TextField(_("ship to"), blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Part(models.Model):
    """A part as the customer numbers it."""

    customer = models.ForeignKey(Customer, models.PROTECT, related_name="parts", verbose_name=_("customer"))
    number = models.CharField(_("part number"), max_length=80)
    name = models.CharField(_("part name"), max_length=120, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["customer", "number"], name="one_part_of_a_number")]

    def __str__(self) -> str:
        return self.number


class PartRevision(models.Model):
    part = models.ForeignKey(Part, models.PROTECT, related_name="revisions")
    revision = models.CharField(_("revision"), max_length=20)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["part", "revision"], name="one_revision_of_a_letter")]

    def __str__(self) -> str:
        return f"{self.part.number} rev {self.revision}"


class Governing(models.TextChoices):
    MODEL = "model", _("the model governs")
    PRINT = "print", _("the print governs")


class Threads(models.TextChoices):
    """How the model shows its threads, as a person compared it with the print."""

    MINOR = "minor", _("at the minor diameter or the tap drill's")
    MAJOR = "major", _("at the major diameter")
    PLAIN = "plain", _("not at all: the holes of the model are plain")
    NONE = "none", _("the part has no threads")


class Job(models.Model):
    """One order line to be made. `stage` is assigned in workflow.actions and nowhere else."""

    number = models.CharField(_("job number"), max_length=20, unique=True)
    revision = models.ForeignKey(PartRevision, models.PROTECT, related_name="jobs")
    order_number = models.CharField(_("customer's order"), max_length=60, blank=True)
    order_line = models.CharField(_("order line"), max_length=20, blank=True)
    quantity = models.PositiveIntegerField(_("quantity"))
    due_on = models.DateField(_("due"))
    material = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, verbose_name=_("material"))
    material_note = models.CharField(_("material as the order says it"), max_length=200, blank=True)
    heat_number = models.CharField(_("heat or lot number"), max_length=60, blank=True)
    material_received = models.BooleanField(_("material received"), default=False)
    notes = models.TextField(_("notes"), blank=True)
    governing = models.CharField(_("what governs"), max_length=5, choices=Governing.choices, blank=True)
    no_model_reason = models.CharField(
        _("why there is no model"), max_length=200, blank=True, help_text=_("paper print, sample, repair, second op …")
    )
    stage = models.CharField(max_length=10, choices=Stage.choices, default=Stage.INTAKE, editable=False)
    held_reason = models.CharField(max_length=300, blank=True, editable=False)
    reading = models.ForeignKey(Work, models.SET_NULL, null=True, blank=True, editable=False, related_name="+")
    solid_index = models.PositiveIntegerField(null=True, blank=True, editable=False)
    unit_confirmed = models.BooleanField(default=False, editable=False)
    revisions_settled = models.CharField(max_length=200, blank=True, editable=False)
    """Why it is right that order, print and model name different revisions; "" where nobody said so."""
    threads = models.CharField(
        _("threads in the model"), max_length=5, choices=Threads.choices, blank=True, editable=False
    )
    left_out = models.JSONField(default=list, blank=True, editable=False)
    """What a person took out of the plan, so that a new proposal does not bring it back: "saw", "setup -Z" …"""
    plan_from = models.ForeignKey("self", models.SET_NULL, null=True, blank=True, editable=False, related_name="+")
    """The earlier order of the part whose plan was copied."""
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["due_on", "number"]
        indexes = [models.Index(fields=["stage", "due_on"])]
        constraints = [models.CheckConstraint(condition=models.Q(quantity__gt=0), name="a_job_makes_something")]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("workflow:job", args=[self.pk])

    @property
    def chain(self) -> str:
        """Name of the job's ledger chain."""
        return f"job:{self.pk}"

    @property
    def part(self) -> Part:
        return self.revision.part

    @property
    def customer(self) -> Customer:
        return self.revision.part.customer

    @property
    def is_open(self) -> bool:
        return self.stage != Stage.CLOSED


class JobFile(models.Model):
    """A file of a job; who may read the job may read the file. A newer one of its kind supersedes it."""

    class Kind(models.TextChoices):
        MODEL = "model", _("model")
        DRAWING = "drawing", _("drawing")
        PHOTO = "photo", _("photo")
        OTHER = "other", _("other")

    job = models.ForeignKey(Job, models.CASCADE, related_name="files")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    stored = models.ForeignKey(StoredFile, models.PROTECT, related_name="+")
    name = models.CharField(max_length=200)
    revision = models.CharField(_("revision"), max_length=20, blank=True)
    """As the file itself or who sent it says; "" where nobody said."""
    uploaded_at = models.DateTimeField(auto_now_add=True)
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.name


class Question(models.Model):
    """A question to the customer; while one that holds the job is open, the job does not leave intake."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="questions")
    number = models.PositiveSmallIntegerField()
    text = models.TextField(_("question"))
    holds_job = models.BooleanField(_("holds the job"), default=True)
    answer = models.TextField(_("answer"), blank=True)
    substitute = models.ForeignKey(Material, models.PROTECT, null=True, blank=True, related_name="+")
    """The material offered in place of the one ordered, where the question is about that."""
    substitute_size = models.CharField(_("size instead"), max_length=120, blank=True)
    approved = models.BooleanField(_("approved"), null=True, blank=True)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="questions_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job} question {self.number}"

    @property
    def is_open(self) -> bool:
        return self.answered_at is None

    @property
    def is_substitution(self) -> bool:
        """Whether it offers other material or another size than ordered, which only the customer can approve."""
        return bool(self.substitute_id or self.substitute_size)


class Direction(models.TextChoices):
    """Which side of the part faces the spindle, in the model's own axes."""

    UP_Z = "+Z", _("+Z up")
    DOWN_Z = "-Z", _("−Z up")
    UP_X = "+X", _("+X up")
    DOWN_X = "-X", _("−X up")
    UP_Y = "+Y", _("+Y up")
    DOWN_Y = "-Y", _("−Y up")


ALONG_X = [("+X", "+X"), ("-X", "\u2212X"), ("+Y", "+Y"), ("-Y", "\u2212Y"), ("+Z", "+Z"), ("-Z", "\u2212Z")]
"""Directions of the model."""


SIDES_SEEN = [("back", _("at the back")), ("front", _("at the front")), ("left", _("left")), ("right", _("right"))]
"""As seen from the machine's front."""


class PickUp(models.TextChoices):
    """What finds the part zero at the machine (core.planning.PickUp)."""

    EDGE_FINDER = "edge finder", _("edge finder")
    INDICATOR = "indicator", _("indicator")
    PROBE = "probe", _("probe")
    STOP = "stop", _("stop")


WORK_OFFSETS = [(1, "G54"), (2, "G55"), (3, "G56"), (4, "G57"), (5, "G58"), (6, "G59")] + [
    (6 + n, f"G59.{n}") for n in (1, 2, 3)
]


class Setup(models.Model):
    """One clamping on one machine. `fixed` names the fields a person typed: a new proposal leaves those alone."""

    class HeldBy(models.TextChoices):
        VISE = "vise", _("a vise")
        CLAMPS = "clamps", _("clamps or a fixture, typed as boxes")

    job = models.ForeignKey(Job, models.CASCADE, related_name="setups")
    number = models.PositiveSmallIntegerField()
    title = models.CharField(_("title"), max_length=120, blank=True)
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, blank=True, verbose_name=_("machine"))
    up = models.CharField(_("orientation"), max_length=2, choices=Direction.choices, default=Direction.UP_Z)
    workholding = models.CharField(_("workholding"), max_length=200, blank=True)
    grip = MeasureField(_("grip"))
    fixture = models.ForeignKey(
        Fixture, models.PROTECT, null=True, blank=True, related_name="setups", verbose_name=_("soft jaws or fixture")
    )
    fixed_jaw = models.CharField(_("fixed jaw"), max_length=5, choices=SIDES_SEEN, blank=True)
    stop_side = models.CharField(_("stop"), max_length=5, choices=SIDES_SEEN, blank=True)
    located_on = models.CharField(_("located on"), max_length=200, blank=True)
    datums = models.CharField(_("datums of the print"), max_length=40, blank=True)
    """Letters of the datums that the surfaces it is located on are."""
    held_by = models.CharField(_("held by"), max_length=6, choices=HeldBy.choices, blank=True)
    """What the solids that nothing may touch are made from; "" where nobody has said."""
    jaws_along = models.CharField(_("jaws run along"), max_length=1, choices=[("X", "X"), ("Y", "Y")], default="X")
    jaw_length = MeasureField(_("jaw length"))
    jaw_thick = MeasureField(_("jaw thickness"))
    parallel_height = MeasureField(_("height of the parallels"))
    parallel_thick = MeasureField(_("thickness of the parallels"))
    bed_height = MeasureField(_("height of the vise's bed over the table"))
    solids = models.TextField(_("boxes that nothing may touch"), blank=True)
    work_offset = models.PositiveSmallIntegerField(_("work offset"), choices=WORK_OFFSETS, default=1)
    along_x = models.CharField(_("along X+"), max_length=2, choices=ALONG_X, blank=True)
    """Which direction of the model lies along the machine's X+; "" where nobody has said."""
    zero_x = MeasureField(_("zero at model X"))
    zero_y = MeasureField(_("zero at model Y"))
    zero_z = MeasureField(_("zero at model Z"))
    zero_point = models.CharField(_("part zero"), max_length=200, blank=True)
    """In words: all there is to say without a model, a note beside the numbers with one."""
    pick_up_by = models.CharField(_("picked up with"), max_length=12, choices=PickUp.choices, blank=True)
    pick_up = models.CharField(_("pick-up"), max_length=200, blank=True)
    stock_in = models.CharField(_("stock in"), max_length=200, blank=True)
    blank_x = MeasureField(_("blank X"))
    blank_y = MeasureField(_("blank Y"))
    blank_z = MeasureField(_("blank Z"))
    blank_over = MeasureField(_("blank over the part"))
    """How far it stands over the finished part on the side that is up; sideways it lies centred."""
    blank_round = models.CharField(
        _("shape of the blank"),
        max_length=1,
        choices=[(axis, _("a round along the model's %s") % axis) for axis in "XYZ"],
        blank=True,
    )
    """The model's axis that a round lies along; "" for a box."""
    blank_holes = models.TextField(_("holes that the blank comes with"), blank=True)
    vary_x = MeasureField(_("blank X differs by ±"))
    vary_y = MeasureField(_("blank Y differs by ±"))
    vary_z = MeasureField(_("blank Z differs by ±"))
    """How much sawn or rolled blanks of one lot may be larger and smaller than said above."""
    manual_reason = models.CharField(_("manual op, because"), max_length=200, blank=True)
    tools = models.ManyToManyField(Tool, through="SetupTool", related_name="+")
    fixed = models.JSONField(default=list, blank=True, editable=False)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="setups_are_numbered")]

    def __str__(self) -> str:
        return f"{self.job} setup {self.number}"

    @property
    def is_manual(self) -> bool:
        return bool(self.manual_reason)

    @property
    def untimed(self) -> int:
        """Operations whose minutes nobody knows; the step's minutes are without them."""
        return sum(row.minutes is None for row in self.operations.all())

    @property
    def zero(self) -> tuple[Measure, Measure, Measure] | None:
        """The part zero as a point of the model, as typed; None where it is not known in numbers."""
        x, y, z = self.zero_x, self.zero_y, self.zero_z
        return (x, y, z) if self.along_x and x and y and z else None

    @property
    def work_offset_code(self) -> str:
        return dict(WORK_OFFSETS)[self.work_offset]


class SetupTool(models.Model):
    """A tool that a setup needs, and what for."""

    setup = models.ForeignKey(Setup, models.CASCADE, related_name="setup_tools")
    tool = models.ForeignKey(Tool, models.PROTECT, related_name="+")
    purpose = models.CharField(_("for"), max_length=120, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["setup", "tool"], name="a_tool_once_a_setup")]

    def __str__(self) -> str:
        return str(self.tool)


class Touch(models.Model):
    """A place inside a setup's program where a person touches the part: clear chips, move a clamp, check a size."""

    setup = models.ForeignKey(Setup, models.CASCADE, related_name="touches")
    after_tool = models.ForeignKey(Tool, models.PROTECT, null=True, blank=True, verbose_name=_("after tool"))
    reason = models.CharField(_("what to do"), max_length=120)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.reason


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


class Characteristic(models.Model):
    """Something to be measured: a balloon number, limits in the drawing's unit, the step where it is measured."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="characteristics")
    number = models.PositiveSmallIntegerField(_("balloon"))
    name = models.CharField(_("characteristic"), max_length=120)
    nominal = MeasureField(_("nominal"))
    lower = MeasureField(_("lower limit"))
    upper = MeasureField(_("upper limit"))
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
