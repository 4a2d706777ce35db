"""The crib: holders and tools, each with the edge it has left."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.utils.translation import gettext_lazy as _

from shopflow.core import types
from shopflow.core.measure import Measure
from shopflow.core.review import life as lasting
from shopflow.shop import soundness
from shopflow.shop.fields import MeasureField, millimetres


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
