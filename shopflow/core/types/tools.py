"""Tools: shape, material, what they are used for, what holds them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class ToolShape(StrEnum):
    """Shape of the cutting end; the trade's words."""

    FLAT = "flat end mill"
    BALL = "ball end mill"
    BULL = "corner radius end mill"
    FACE = "face mill"
    CHAMFER = "chamfer mill"
    DRILL = "drill"
    SPOT = "spot drill"
    COUNTERSINK = "countersink"
    COUNTERBORE = "counterbore"
    REAMER = "reamer"
    TAP = "tap"
    THREAD_MILL = "thread mill"
    BORE = "boring head"
    SLOT = "T-slot cutter"
    PROBE = "probe"


class ToolMaterial(StrEnum):
    HSS = "high-speed steel"
    COBALT = "cobalt high-speed steel"
    CARBIDE = "solid carbide"
    INSERT = "carbide insert"

    @property
    def is_high_speed_steel(self) -> bool:
        return self in (ToolMaterial.HSS, ToolMaterial.COBALT)


class ToolCoating(StrEnum):
    """What lies over a tool's edges, by what it is made of; NOT_SAID is not the same as none."""

    NOT_SAID = ""
    UNCOATED = "uncoated"
    TIN = "TiN"
    TICN = "TiCN"
    TIALN = "TiAlN"
    ALTIN = "AlTiN"
    ALCRN = "AlCrN"
    ZRN = "ZrN"
    TIB2 = "TiB2"
    CARBON = "diamond-like carbon"
    DIAMOND = "diamond"


class ToolUse(StrEnum):
    """What a shop allows a tool to be used for."""

    FACE = "face"
    ROUGH = "rough"
    WALL = "wall"
    FLOOR = "floor"
    HELICAL = "helical bore"
    SURFACE = "surface"
    SPOT = "spot"
    DRILL = "drill"
    COUNTERSINK = "countersink"
    COUNTERBORE = "counterbore"
    CHAMFER = "chamfer"
    DEBURR = "deburr"
    TAP = "tap"
    REAM = "ream"
    BORE = "bore"


@dataclass(frozen=True)
class Holder:
    """What grips a tool, as a stack of cones from the nose upwards.

    profile: (height above the nose mm, diameter mm) pairs, heights rising from 0; straight between the pairs.
    """

    name: str
    profile: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Tool:
    """One tool as it sits in its holder.

    diameter_mm: cutting diameter. corner_radius_mm: 0 for a sharp corner, half the diameter for a ball.
    point_angle_deg: included angle of a drill point, chamfer or countersink; 180 is flat.
    tip_diameter_mm: flat at the tip of a chamfer mill. flute_length_mm: length that cuts. stickout_mm: tip to holder
    nose. neck_diameter_mm and shank_diameter_mm: what is above the flutes. max_rpm: 0 where it has no limit of its own.
    set_from_mm, set_to_mm: between which diameters a boring head is set; 0 where nobody said.
    """

    number: int
    name: str
    shape: ToolShape
    diameter_mm: float
    material: ToolMaterial = ToolMaterial.CARBIDE
    corner_radius_mm: float = 0.0
    point_angle_deg: float = 180.0
    tip_diameter_mm: float = 0.0
    flute_length_mm: float = 0.0
    stickout_mm: float = 0.0
    neck_diameter_mm: float = 0.0
    shank_diameter_mm: float = 0.0
    flutes: int = 2
    pitch_mm: float = 0.0
    centre_cutting: bool = True
    through_coolant: bool = False
    max_rpm: float = 0.0
    uses: frozenset[ToolUse] = frozenset()
    holder: Holder | None = None
    coating: ToolCoating = ToolCoating.NOT_SAID
    set_from_mm: float = 0.0
    set_to_mm: float = 0.0
