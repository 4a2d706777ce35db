"""How the part is clamped, setup by setup: on which machine, which side up, where its zero is, and with which tools."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core.measure import Measure
from shopflow.core.orientation import Angles
from shopflow.jobs.models.orders import Job, JobFile
from shopflow.shop.fields import MeasureField
from shopflow.shop.models import Fixture, Machine, Tool


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


MINUS = "\u2212"
ANGLE: dict[str, Any] = {"max_digits": 7, "decimal_places": 4, "default": 0}


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
    tilt_x = models.DecimalField(_("tilted about X, degrees"), **ANGLE)
    tilt_y = models.DecimalField(_("tilted about Y, degrees"), **ANGLE)
    turn_z = models.DecimalField(_("turned about Z, degrees"), **ANGLE)
    """From there, about the machine's X first, then Y, then Z (core.orientation)."""
    slant = models.CharField(max_length=24, blank=True, editable=False)
    """The slanted direction of the model that the plan tilted the part for; "" in every other setup."""
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
    blank_file = models.ForeignKey(
        JobFile, models.PROTECT, null=True, blank=True, related_name="+", verbose_name=_("model of the blank")
    )
    """The solid that the blank is, in the coordinates of the part's model; the sizes above then say nothing."""
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
    def angles(self) -> Angles:
        """Degrees about X, Y and Z by which the part stands otherwise than by right angles."""
        return float(self.tilt_x), float(self.tilt_y), float(self.turn_z)

    @property
    def is_aslant(self) -> bool:
        return any(self.angles)

    @property
    def clamping(self) -> str:
        """Names it among those that the plan proposes: the side that is up, or the slanted direction."""
        return self.slant or self.up

    @property
    def orientation(self) -> str:
        """Which side is up, and by which angles it stands otherwise: "+Z up, tilted 12.5° about Y"."""
        return ", ".join([self.get_up_display(), *self.angle_words])

    @property
    def angle_words(self) -> list[str]:
        """In the order in which they are taken; none for a part that stands by right angles."""
        ways = (_("tilted %s° about X"), _("tilted %s° about Y"), _("turned %s° about Z"))
        angles = (self.tilt_x, self.tilt_y, self.turn_z)
        return [
            str(words) % f"{angle.normalize():f}".replace("-", MINUS)
            for words, angle in zip(ways, angles, strict=True)
            if angle
        ]

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
