"""The shop: crib, machines, materials, gauges, house rules. Each row knows how to become a core value."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core import types
from shopflow.core.cutting.power import read_curve
from shopflow.core.measure import Measure, NotALength
from shopflow.core.nc.machine_text import MachineText
from shopflow.core.review import life as lasting
from shopflow.records.protect import append_only
from shopflow.shop import soundness
from shopflow.shop.calendar_model import ClosedDay as ClosedDay
from shopflow.shop.cutting_model import CuttingData as CuttingData
from shopflow.shop.fields import MeasureField, millimetres
from shopflow.shop.fixture_models import Fixture as Fixture
from shopflow.shop.stock_models import StockBar as StockBar


class ToolShape(models.TextChoices):
    FLAT = "flat end mill", _("flat end mill")
    BALL = "ball end mill", _("ball end mill")
    BULL = "corner radius end mill", _("corner radius end mill")
    FACE = "face mill", _("face mill")
    CHAMFER = "chamfer mill", _("chamfer mill")
    DRILL = "drill", _("drill")
    SPOT = "spot drill", _("spot drill")
    COUNTERSINK = "countersink", _("countersink")
    COUNTERBORE = "counterbore", _("counterbore")
    REAMER = "reamer", _("reamer")
    TAP = "tap", _("tap")
    THREAD_MILL = "thread mill", _("thread mill")
    BORE = "boring head", _("boring head")
    SLOT = "T-slot cutter", _("T-slot cutter")
    PROBE = "probe", _("probe")


class ToolMaterial(models.TextChoices):
    HSS = "high-speed steel", _("high-speed steel")
    COBALT = "cobalt high-speed steel", _("cobalt high-speed steel")
    CARBIDE = "solid carbide", _("solid carbide")
    INSERT = "carbide insert", _("carbide insert")


class ToolCoating(models.TextChoices):
    UNCOATED = "uncoated", _("uncoated")
    TIN = "TiN", "TiN"
    TICN = "TiCN", "TiCN"
    TIALN = "TiAlN", "TiAlN"
    ALTIN = "AlTiN", "AlTiN"
    ALCRN = "AlCrN", "AlCrN"
    ZRN = "ZrN", "ZrN"
    TIB2 = "TiB2", "TiB2"
    CARBON = "diamond-like carbon", _("diamond-like carbon")
    DIAMOND = "diamond", _("diamond")


class LifeUnit(models.TextChoices):
    MINUTES = "minutes", _("minutes")
    HOLES = "holes", _("holes")


class Edge(models.TextChoices):
    SHARP = "sharp", _("sharp")
    WORN = "worn", _("worn")
    OUT = "out", _("used up")


FEW = 10
"""Less than so much of a life is told with a decimal."""
_FINISHES = frozenset(types.ToolUse(use) for use in ("wall", "floor", "surface", "ream", "bore"))


class Holder(models.Model):
    """What grips a tool. profile: [[height above the nose mm, diameter mm], …], each number as it was typed."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    profile = models.JSONField(_("profile"), default=list, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        soundness.check_holder(self)

    def as_core(self) -> types.Holder:
        return types.Holder(
            name=self.name, profile=tuple((float(height), float(width)) for height, width in self.profile)
        )


class Tool(models.Model):
    """One tool of the crib as it sits in its holder; its number is the one that programs call."""

    number = models.PositiveIntegerField(_("number"), unique=True)
    name = models.CharField(_("name"), max_length=120)
    shape = models.CharField(_("shape"), max_length=30, choices=ToolShape.choices)
    diameter = MeasureField(_("diameter"), blank=False)
    material = models.CharField(
        _("tool material"), max_length=30, choices=ToolMaterial.choices, default=ToolMaterial.CARBIDE
    )
    coating = models.CharField(
        _("coating"), max_length=20, choices=ToolCoating.choices, blank=True, help_text=_("Empty: not said.")
    )
    corner_radius = MeasureField(_("corner radius"))
    point_angle = models.DecimalField(_("point angle, degrees"), max_digits=6, decimal_places=2, default=180)
    tip_diameter = MeasureField(_("tip diameter"))
    flute_length = MeasureField(_("length of cut"))
    stickout = MeasureField(_("stickout"))
    set_from = MeasureField(
        _("set from"), help_text=_("The smallest diameter that a boring head is set to. Empty: 5 mm under its own.")
    )
    set_to = MeasureField(_("set to"), help_text=_("The largest. Empty: 5 mm over its own."))
    neck_diameter = MeasureField(_("neck diameter"))
    shank_diameter = MeasureField(_("shank diameter"))
    flutes = models.PositiveSmallIntegerField(_("flutes"), default=2)
    pitch = MeasureField(_("pitch"))
    centre_cutting = models.BooleanField(_("centre-cutting"), default=True)
    through_coolant = models.BooleanField(_("coolant through the tool"), default=False)
    max_rpm = models.PositiveIntegerField(
        _("highest rpm"), default=0, help_text=_("0 where it has no limit of its own")
    )
    uses = models.JSONField(_("allowed uses"), default=list, blank=True)
    holder = models.ForeignKey(Holder, models.PROTECT, null=True, blank=True, verbose_name=_("holder"))
    on_hand = models.PositiveSmallIntegerField(_("on hand"), default=1)
    life = models.DecimalField(
        _("life of an edge"), max_digits=7, decimal_places=1, null=True, blank=True,
        help_text=_("Minutes at feed, or holes, until it is changed. Empty: nobody counts."),
    )  # fmt: skip
    life_unit = models.CharField(
        _("life counted in"), max_length=8, choices=LifeUnit.choices, default=LifeUnit.MINUTES, blank=True
    )
    life_used = models.DecimalField(
        _("life used"), max_digits=9, decimal_places=2, default=0, blank=True,
        help_text=_("The floor adds to it with every piece it reports."),
    )  # fmt: skip
    edge = models.CharField(_("edge"), max_length=8, choices=Edge.choices, default=Edge.SHARP, blank=True)
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"T{self.number} {self.name}"

    def clean(self) -> None:
        self.edge, self.life_unit = self.edge or Edge.SHARP, self.life_unit or LifeUnit.MINUTES
        self.life_used = self.life_used or Decimal(0)
        soundness.check_tool(self)

    @property
    def life_left(self) -> Decimal | None:
        """In its unit, never below 0; None where nobody counts."""
        return None if self.life is None else max(Decimal(self.life) - Decimal(self.life_used), Decimal(0))

    @property
    def edge_said(self) -> str:
        """Its state, with what is left where somebody counts: "sharp, 38 min left"."""
        state, left = str(Edge(self.edge or Edge.SHARP).label), self.life_left
        if left is None:
            return state
        words = (
            _("%(edge)s, %(left)s holes left") if self.life_unit == LifeUnit.HOLES else _("%(edge)s, %(left)s min left")
        )
        return words % {"edge": state, "left": f"{left:.1f}" if left < FEW and left % 1 else f"{left:.0f}"}

    def wear(self) -> lasting.Wear:
        """What it finishes by what it is allowed for; a plan may know more."""
        left, uses = self.life_left, {types.ToolUse(use) for use in self.uses}
        return lasting.Wear(
            number=self.number,
            edge=lasting.Edge(self.edge or lasting.Edge.SHARP),
            left=None if left is None else float(left),
            unit=lasting.LifeUnit(self.life_unit or lasting.LifeUnit.MINUTES),
            finishes=bool(uses) and uses <= _FINISHES,
        )

    @property
    def corner_radius_mm(self) -> float:
        """Of a ball it follows from the diameter, typed or not."""
        if self.shape == ToolShape.BALL:
            return millimetres(self.diameter) / 2
        return millimetres(self.corner_radius)

    @property
    def gauge_length(self) -> Measure | None:
        """From the tip to the top of the holder as its profile describes it, in the stickout's unit; None where either
        is not known. The profile's top is taken for the spindle's gauge line (common practice, no source)."""
        if self.stickout is None or self.holder is None or not self.holder.profile:
            return None
        height = Measure("", Decimal(str(self.holder.profile[-1][0])), "mm").in_unit(self.stickout.unit)
        places = Decimal("0.1") if self.stickout.unit == "mm" else Decimal("0.001")
        value = (self.stickout.value + height).quantize(places)
        return Measure(f"{value} {self.stickout.unit}", value, self.stickout.unit)

    def as_core(self) -> types.Tool:
        return types.Tool(
            number=self.number,
            name=self.name,
            shape=types.ToolShape(self.shape),
            diameter_mm=millimetres(self.diameter),
            material=types.ToolMaterial(self.material),
            corner_radius_mm=self.corner_radius_mm,
            point_angle_deg=float(self.point_angle),
            tip_diameter_mm=millimetres(self.tip_diameter),
            flute_length_mm=millimetres(self.flute_length),
            stickout_mm=millimetres(self.stickout),
            neck_diameter_mm=millimetres(self.neck_diameter),
            shank_diameter_mm=millimetres(self.shank_diameter),
            flutes=self.flutes,
            pitch_mm=millimetres(self.pitch),
            centre_cutting=self.centre_cutting,
            through_coolant=self.through_coolant,
            max_rpm=float(self.max_rpm),
            uses=frozenset(types.ToolUse(use) for use in self.uses),
            holder=self.holder.as_core() if self.holder else None,
            coating=types.ToolCoating(self.coating),
            set_from_mm=millimetres(self.set_from),
            set_to_mm=millimetres(self.set_to),
        )


class Machine(models.Model):
    """A mill of the shop. Feeds are mm/min, accelerations mm/s², power kW.

    From name_by_number to memory_bytes: how it wants its files; floor copies keep to it.
    """

    class LineEnds(models.TextChoices):
        CRLF = "crlf", _("carriage return and line feed")
        LF = "lf", _("line feed alone")

    name = models.CharField(_("name"), max_length=80, unique=True)
    travel_x = MeasureField(_("travel X"), blank=False)
    travel_y = MeasureField(_("travel Y"), blank=False)
    travel_z = MeasureField(_("travel Z"), blank=False)
    rapid_x = models.PositiveIntegerField(_("rapid X, mm/min"), default=15000)
    rapid_y = models.PositiveIntegerField(_("rapid Y, mm/min"), default=15000)
    rapid_z = models.PositiveIntegerField(_("rapid Z, mm/min"), default=10000)
    acceleration = models.PositiveIntegerField(_("acceleration, mm/s²"), default=1500)
    max_feed = models.PositiveIntegerField(_("highest cutting feed, mm/min"), default=10000)
    min_rpm = models.PositiveIntegerField(_("lowest rpm"), default=50)
    max_rpm = models.PositiveIntegerField(_("highest rpm"), default=8000)
    power_kw = models.DecimalField(_("spindle power, kW"), max_digits=6, decimal_places=2, default=7)
    power_curve = models.CharField(
        _("power by speed, rpm kW"),
        max_length=200,
        blank=True,
        help_text=_("pairs apart by commas, such as 1500 7.5, 8000 7.5; empty: the same power at every speed"),
    )
    tool_change_s = models.DecimalField(_("tool change, s"), max_digits=5, decimal_places=1, default=6)
    spindle_start_s = models.DecimalField(_("spindle start, s"), max_digits=5, decimal_places=1, default=2)
    carousel = models.PositiveSmallIntegerField(_("pockets in the carousel"), default=20)
    through_coolant = models.BooleanField(_("coolant through the spindle"), default=False)
    control = models.CharField(_("control profile"), max_length=40, default="calculator")
    name_by_number = models.BooleanField(_("files are called by the program number (O1234)"), default=False)
    name_length = models.PositiveSmallIntegerField(
        _("longest file name"), default=0, help_text=_("characters before the point; 0 for no limit")
    )
    name_ending = models.CharField(
        _("ending of file names"), max_length=8, blank=True, help_text=_("such as nc; empty: as the program's own")
    )
    first_number = models.PositiveIntegerField(_("first program number"), default=0)
    last_number = models.PositiveIntegerField(_("last program number"), default=99_999_999)
    line_ends = models.CharField(_("line ends"), max_length=4, choices=LineEnds.choices, default=LineEnds.CRLF)
    percent_signs = models.BooleanField(_("a lone % must open and close a file"), default=False)
    comment_length = models.PositiveSmallIntegerField(
        _("longest comment"), default=60, help_text=_("characters between the parentheses")
    )
    own_comments_plain = models.BooleanField(
        _("comments of a program itself must be short and plain too"),
        default=False,
        help_text=_("upper case, no brackets inside; otherwise only the header and the stops are"),
    )
    memory_bytes = models.PositiveIntegerField(
        _("memory for one program, bytes"), default=0, help_text=_("0 for no limit")
    )
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        soundness.check_machine(self)

    def as_core(self, control: types.ControlProfile) -> types.Machine:
        """The core's machine; the control profile is looked up by its name where the profiles are known."""
        return types.Machine(
            name=self.name,
            travel_mm=(millimetres(self.travel_x), millimetres(self.travel_y), millimetres(self.travel_z)),
            rapid_mm_min=(float(self.rapid_x), float(self.rapid_y), float(self.rapid_z)),
            acceleration_mm_s2=(float(self.acceleration),) * 3,
            max_feed_mm_min=float(self.max_feed),
            min_rpm=float(self.min_rpm),
            max_rpm=float(self.max_rpm),
            power_kw=float(self.power_kw),
            power_curve=read_curve(self.power_curve),
            tool_change_s=float(self.tool_change_s),
            spindle_start_s=float(self.spindle_start_s),
            carousel=self.carousel,
            through_coolant=self.through_coolant,
            control=control,
        )

    def machine_text(self) -> MachineText:
        """How its files must be written."""
        return MachineText(
            number_range=(self.first_number, self.last_number),
            line_end="\r\n" if self.line_ends == self.LineEnds.CRLF else "\n",
            comment_length=self.comment_length,
            own_comments_plain=self.own_comments_plain,
            max_bytes=self.memory_bytes,
            percent_signs=self.percent_signs,
            name_by_number=self.name_by_number,
            name_length=self.name_length,
            name_ending=self.name_ending,
        )


class Material(models.Model):
    """A work material."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    group = models.CharField(_("group"), max_length=40, help_text=_("such as aluminium, low carbon steel"))
    density = models.DecimalField(_("density, kg/m³"), max_digits=7, decimal_places=1)
    unit_power = models.DecimalField(
        _("unit power, kW per cm³/min"), max_digits=8, decimal_places=5, default=0, help_text=_("0 where unknown")
    )
    needs_heat_number = models.BooleanField(_("heat or lot number asked for"), default=False)
    caution = models.CharField(_("caution"), max_length=300, blank=True)
    source = models.CharField(_("where the numbers come from"), max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        soundness.check_material(self)

    def as_core(self) -> types.Material:
        return types.Material(
            name=self.name,
            group=self.group,
            density_kg_m3=float(self.density),
            unit_power_kw_cm3_min=float(self.unit_power),
        )


class Gauge(models.Model):
    """A measuring instrument. resolution: the smallest step it shows. smallest, largest: what it reaches."""

    number = models.CharField(_("number"), max_length=30, unique=True)
    name = models.CharField(_("name"), max_length=120)
    resolution = MeasureField(_("resolution"), any_quantity=True)
    smallest = MeasureField(_("measures from"), any_quantity=True)
    largest = MeasureField(_("measures to"), any_quantity=True)
    calibrated_until = models.DateField(_("in calibration until"), null=True, blank=True)
    note = models.CharField(_("note"), max_length=200, blank=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"

    def clean(self) -> None:
        """Refuse a gauge that measures to less than it measures from."""
        if not self.smallest or not self.largest:
            return
        try:
            is_crossed = self.smallest.in_unit(self.largest.unit) > self.largest.value
        except NotALength as refusal:
            raise ValidationError({"largest": str(refusal)}) from refusal
        if is_crossed:
            raise ValidationError({"largest": _("It measures to less than it measures from.")})


class HouseRule(models.Model):
    """A limit the shop set itself; rules without a row stand at their default (core.review.house_rules)."""

    key = models.CharField(max_length=60, unique=True)
    value = models.CharField(_("value"), max_length=60)

    def __str__(self) -> str:
        return f"{self.key} = {self.value}"


@append_only
class HouseRuleChange(models.Model):
    """Who changed a rule, from what to what, and why; rows are only added. Empty before or after: the default."""

    key = models.CharField(max_length=60)
    before = models.CharField(max_length=60, blank=True)
    after = models.CharField(max_length=60, blank=True)
    reason = models.CharField(_("reason"), max_length=300)
    changed_at = models.DateTimeField(auto_now_add=True)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["key"])]

    def __str__(self) -> str:
        return f"{self.key}: {self.before} → {self.after}"


class ControlProfile(models.Model):
    """A control profile of the shop's own: a built-in one with some settings changed.

    changes: the settings that differ from it, as core.nc.control_values has them plain.
    """

    name = models.SlugField(_("short name"), max_length=40, unique=True)
    title = models.CharField(_("title"), max_length=120)
    based_on = models.CharField(_("based on"), max_length=40)
    changes = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["title", "name"]

    def __str__(self) -> str:
        return self.title


@append_only
class ControlProfileChange(models.Model):
    """Who changed a control profile, from what to what, and why; rows are only added.

    of: number of the profile, which it keeps under every name. before, after: the settings that changed, plain; name
    and title among them. Nothing before: it was made then; nothing after: it was removed.
    """

    of = models.BigIntegerField()
    profile = models.CharField(max_length=40)
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)
    reason = models.CharField(_("reason"), max_length=300)
    changed_at = models.DateTimeField(auto_now_add=True)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["of"])]

    def __str__(self) -> str:
        return f"{self.profile}: {', '.join(self.after) or 'removed'}"
