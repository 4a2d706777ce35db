"""What each motion does, told from the way it goes, its tool and the material that it took; never from comments.

A motion that feeds through nothing is air. What was not simulated is told as far as tool and way tell it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc.extent import lengths
from shopflow.core.types import MotionKind, Motions, Tool, ToolShape, ToolUse

if TYPE_CHECKING:  # the compiler that simulation needs is not loaded by those who only read findings
    from shopflow.core.stock.removal import Removal

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Does = NDArray[np.uint8]


class Doing(IntEnum):
    """What a motion is there for."""

    NO_FEED = 0
    """A rapid, a dwell, a probe."""
    UNKNOWN = 1
    """It feeds; what it does would need the material."""
    AIR = 2
    FACE = 3
    ROUGH = 4
    WALL = 5
    FLOOR = 6
    HELICAL = 7
    SURFACE = 8
    SPOT = 9
    DRILL = 10
    COUNTERSINK = 11
    COUNTERBORE = 12
    CHAMFER = 13
    DEBURR = 14
    TAP = 15
    REAM = 16
    BORE = 17
    RAMP = 18
    PLUNGE = 19


USE_OF = {doing: ToolUse[doing.name] for doing in Doing if doing.name in ToolUse.__members__}
"""The use that a shop allows a tool for; air, ramps and plunges are ways into a cut and no use of their own."""

ALONG_AXIS = {
    ToolShape.DRILL: Doing.DRILL, ToolShape.SPOT: Doing.SPOT, ToolShape.COUNTERSINK: Doing.COUNTERSINK,
    ToolShape.COUNTERBORE: Doing.COUNTERBORE, ToolShape.REAMER: Doing.REAM, ToolShape.TAP: Doing.TAP,
    ToolShape.BORE: Doing.BORE, ToolShape.CHAMFER: Doing.COUNTERSINK,
}  # fmt: skip
"""What a tool does that goes straight down into material."""
POINTED = frozenset({ToolShape.SPOT, ToolShape.CHAMFER, ToolShape.COUNTERSINK})

_SHAPING = (Doing.TAP, Doing.REAM)
"""What these take is less than a simulation sees."""

LEAST_TAKEN_MM3 = 1e-3
"""Less than this is what arcs in chords leave of a pass before."""
FINISH_SHARE = 0.1
"""Of the diameter: a finishing pass takes no more than this sideways, or down (our choice)."""
DEBURR_MM = 0.3
"""An edge broken by no more than this is deburred (common practice, no source)."""
FACES_SHARE = 0.6
"""Of the top of the stock that passes of one level take when they face it (our choice)."""
LEVEL_MM = 1e-4
SHALLOW_SHARE = 0.25
"""Of the diameter: a ball takes no more than this in both ways when it follows a surface (our choice)."""
TURNS_DEG = 350.0
"""A bore by helix has at least one turn at its full depth or on the way."""
SAME_PLACE_MM = 0.01


def classed(motions: Motions, tools: Mapping[int, Tool], removal: Removal | None = None) -> Does:
    """(n,) uint8 `Doing` of each motion. removal: of all motions, in one work offset; None where not simulated."""
    feeds = motions.feeds
    doing = np.where(feeds, Doing.UNKNOWN, Doing.NO_FEED).astype(np.uint8)
    way = _Way.of(motions)
    for number in np.unique(motions.tool[feeds]).tolist():
        tool = tools.get(number)
        if tool is not None:
            rows = np.flatnonzero(feeds & (motions.tool == number))
            doing[rows] = Doing.NO_FEED if tool.shape is ToolShape.PROBE else _holes(tool, way.at(rows))
    if removal is not None:
        _mill(doing, motions, tools, removal, way)
    return doing


@dataclass(frozen=True)
class _Way:
    """How motions go. down, level: mm along the spindle and across it; slope: mm down a mm of way."""

    down: Floats
    level: Floats
    turn_deg: Floats

    @classmethod
    def of(cls, motions: Motions) -> _Way:
        down = motions.start[:, 2] - motions.end[:, 2]
        flat = np.where(motions.plane == 17, np.abs(motions.turn_deg), 0.0)
        way = lengths(motions)
        return cls(down, np.sqrt(np.maximum(way**2 - down**2, 0.0)), flat)

    def at(self, rows: NDArray[np.intp]) -> _Way:
        return _Way(self.down[rows], self.level[rows], self.turn_deg[rows])

    @property
    def straight_down(self) -> Flags:
        found: Flags = (self.down > LEVEL_MM) & (self.level < 1e-3)
        return found

    @property
    def sloping(self) -> Flags:
        found: Flags = (np.abs(self.down) > LEVEL_MM) & (self.level >= 1e-3)
        return found


def _holes(tool: Tool, way: _Way) -> Does:
    """What tools that work along the spindle do, with or without knowing the material."""
    along = ALONG_AXIS.get(tool.shape)
    if along is None:
        return np.full(len(way.down), Doing.UNKNOWN, np.uint8)
    sideways = Doing.CHAMFER if tool.shape in POINTED else Doing.UNKNOWN
    upright = way.level < 1e-3
    return np.where(upright, along, sideways).astype(np.uint8)


def _mill(doing: Does, motions: Motions, tools: Mapping[int, Tool], removal: Removal, way: _Way) -> None:
    feeds = doing != Doing.NO_FEED
    swept = feeds & (removal.unswept == 0)
    air = swept & ((removal.thickest_mm <= 0.0) | (removal.volume_mm3 < LEAST_TAKEN_MM3))
    doing[feeds & (removal.unswept != 0)] = Doing.UNKNOWN
    doing[air] = np.where(np.isin(doing[air], _SHAPING), doing[air], Doing.AIR)
    cuts = swept & ~air
    for number, tool in tools.items():
        rows = np.flatnonzero(cuts & (motions.tool == number))
        if not len(rows) or tool.shape is ToolShape.PROBE:
            continue
        if tool.shape in POINTED:
            doing[rows] = _pointed(tool, doing[rows], removal, rows)
        elif tool.shape not in ALONG_AXIS:
            doing[rows] = _milled(tool, way.at(rows), removal, rows, mean_width(removal, motions)[rows])
    _face(doing, motions, tools, removal)
    _bore_or_enter(doing, motions, way)


def _pointed(tool: Tool, doing: Does, removal: Removal, rows: NDArray[np.intp]) -> Does:
    """Small edges are deburred; a spot drill that only meets the mouth of a hole sinks it."""
    small = (removal.axial_mm[rows] <= DEBURR_MM) & (doing == Doing.CHAMFER)
    found = np.where(small, Doing.DEBURR, doing)
    if tool.shape is ToolShape.SPOT:
        depth = removal.axial_mm[rows]
        tangent = np.tan(np.radians(tool.point_angle_deg) / 2.0)
        cone = np.pi / 3.0 * np.minimum(depth * tangent, tool.diameter_mm / 2.0) ** 2 * depth
        mouth = (doing == Doing.SPOT) & (removal.volume_mm3[rows] < 0.5 * cone)
        found = np.where(mouth, Doing.COUNTERSINK, found)
    return found.astype(np.uint8)


def mean_width(removal: Removal, motions: Motions) -> Floats:
    """(n,) mm, width of what each motion took sideways, on the mean: at a corner any pass is wide for a moment."""
    area = removal.axial_mm * lengths(motions)
    mean = np.where(area > 0.0, removal.volume_mm3 / np.where(area > 0.0, area, 1.0), np.inf)
    narrower: Floats = np.minimum(removal.radial_mm, mean)
    return narrower


def _milled(tool: Tool, way: _Way, removal: Removal, rows: NDArray[np.intp], wide: Floats) -> Does:
    """Mills by the width and depth that they took."""
    deep, pitch = removal.axial_mm[rows], removal.grid.pitch
    small = FINISH_SHARE * tool.diameter_mm
    is_wall = (wide <= max(small, min(pitch, 2.0 * small))) & (deep > wide)
    is_floor = (deep <= small) & ~is_wall
    found = np.select([is_wall, is_floor], [Doing.WALL, Doing.FLOOR], Doing.ROUGH)
    if tool.shape is ToolShape.BALL:
        most = SHALLOW_SHARE * tool.diameter_mm + pitch
        found = np.where((deep <= most) | (wide <= most), Doing.SURFACE, Doing.ROUGH)
    elif tool.shape is ToolShape.BULL:
        found = np.where(way.sloping & (deep <= small + pitch), Doing.SURFACE, found)
    found = np.where(way.sloping & (found != Doing.SURFACE) & (way.down > 0.0), Doing.RAMP, found)
    found = np.where(way.straight_down, Doing.PLUNGE, found)
    return found.astype(np.uint8)


def _face(doing: Does, motions: Motions, tools: Mapping[int, Tool], removal: Removal) -> None:
    """Level passes of one tool at one height that take most of the top of the stock."""
    for number, tool in tools.items():
        sideways = np.isin(doing, (Doing.ROUGH, Doing.FLOOR, Doing.WALL)) & (motions.tool == number)
        if tool.shape is ToolShape.FACE:
            doing[sideways] = Doing.FACE
            continue
        rows = np.flatnonzero(sideways)
        heights = np.round(motions.end[rows, 2], 3)
        for height in _first_heights(heights):
            level = rows[heights == height]
            deepest = float(removal.axial_mm[level].max(initial=0.0))
            low, high = removal.grid.box
            top = (high[0] - low[0]) * (high[1] - low[1])
            is_shallow = 0.0 < deepest <= tool.diameter_mm / 2.0
            if is_shallow and float(removal.volume_mm3[level].sum()) / deepest >= FACES_SHARE * top:
                doing[level] = Doing.FACE


def _first_heights(heights: Floats, most: int = 200) -> list[float]:
    """Each height once, highest first; a 3D pass has thousands, and none of those faces anything."""
    return sorted(set(heights.tolist()), reverse=True)[:most]


def _bore_or_enter(doing: Does, motions: Motions, way: _Way) -> None:
    """Full turns on the way down are a bore where nothing wider follows at the bottom, else a way into the cut."""
    turning = (way.turn_deg > TURNS_DEG) & np.isin(
        doing, (Doing.RAMP, Doing.ROUGH, Doing.WALL, Doing.FLOOR, Doing.SURFACE)
    )
    down = np.flatnonzero(turning & (way.down > LEVEL_MM))
    if not len(down):
        return
    for run in np.split(down, np.flatnonzero(np.diff(down) > 1) + 1):
        last, centre = int(run[-1]), motions.centre[run[-1], :2]
        after = last + 1
        while after < len(motions) and _same_circle(motions, after, centre) and abs(way.down[after]) <= LEVEL_MM:
            after += 1
        widens = after < len(motions) and doing[after] in (Doing.ROUGH, Doing.WALL, Doing.FLOOR)
        doing[run] = Doing.RAMP if widens else Doing.HELICAL
        rest = np.arange(last + 1, after)
        if not widens:
            doing[rest[doing[rest] != Doing.AIR]] = Doing.HELICAL


def _same_circle(motions: Motions, row: int, centre: Floats) -> bool:
    if motions.kind[row] != MotionKind.ARC:
        return False
    return bool((np.abs(motions.centre[row, :2] - centre) < SAME_PLACE_MM).all())
