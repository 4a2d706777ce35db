"""The zero of a program that does not say where it is: placements whose drilled places fall on the model's holes.

A drilled pattern fixes where the part sits better than any word in the program. Over the 24 ways in which a part can
stand square, every pair of a drilled place and a hole votes for the shift between them; the shift with most votes is
refined, and the depths say where Z is zero. Where two placements fit equally well both are given, and a person chooses.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.solid import Hole
from shopflow.core.types import Box, MotionKind, Motions, Placement, Tool, ToolShape, Vector

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

NEAR_MM = 0.05
"""A drilled place this near to a hole's axis is that hole (our choice: programs are written to 0.003 mm or better)."""
DEPTH_MM = 0.25
"""A depth that agrees with the model's to this fits (our choice: drill points are rounded off in many a program)."""
SAME_MM = 0.01
"""Residuals that differ by less are equal."""
CYCLES = (73, 76, 81, 82, 83, 84, 85, 86, 87, 88, 89)

_DRILLING = frozenset(
    {ToolShape.DRILL, ToolShape.SPOT, ToolShape.REAMER, ToolShape.TAP, ToolShape.BORE, ToolShape.COUNTERSINK,
     ToolShape.COUNTERBORE}
)  # fmt: skip
_NO_DEPTH = frozenset({ToolShape.SPOT, ToolShape.COUNTERSINK, ToolShape.COUNTERBORE, ToolShape.TAP})
_THROUGH_DIAMETERS, _THROUGH_MM = 1.0, 5.0
"""How far a drill goes out of a through hole at the most: its point and a clearance (our choice)."""


@dataclass(frozen=True)
class Drilled:
    """Places that a program drills, one a place. at: (n, 2) mm; tip: (n,) lowest tip of a tool that makes the depth,
    nan where only a spot drill or a countersink came; diameter: (n,) of that tool, nan where it is not known.
    """

    at: Floats
    tip: Floats
    diameter: Floats

    def __len__(self) -> int:
        return len(self.at)


@dataclass(frozen=True)
class Proposal:
    """One placement that fits. matched of drilled places fall on a hole axis, residual_mm at the most from it.

    depth_fits: of the matched, how many depths agree. height_from: "depths" of blind holes, "part top" or "part bottom"
    where only through holes were drilled and zero there agrees with all of them, or "" where Z is not known: then it
    lies in z_range_mm, what origin_mm[2] may be.
    """

    placement: Placement
    matched: int
    drilled: int
    residual_mm: float
    depth_fits: int
    height_from: str
    z_range_mm: tuple[float, float]


@dataclass(frozen=True)
class ZeroFound:
    """proposals: those that fit best and equally well; none where the pattern fits nowhere, or nothing is drilled."""

    proposals: tuple[Proposal, ...]
    drilled: int


def find_zero(
    motions: Motions,
    holes: Sequence[Hole],
    box: Box,
    *,
    tools: Mapping[int, Tool] | None = None,
    work_offset: int = 1,
    ups: Sequence[Vector] | None = None,
) -> ZeroFound:
    """Propose placements of the part in the coordinates of a work offset.

    holes, box: of the model, mm. tools: by number; without them every straight plunge counts as drilling. ups: sides of
    the model that may look up, None for all six. At least half of the drilled places must match, and two of them where
    more than one is drilled.
    """
    places = drilled(motions, tools=tools, work_offset=work_offset)
    found = [
        one
        for rotation in _rotations()
        if ups is None or any(np.allclose(rotation[2], up, atol=1e-6) for up in ups)
        for one in _fitting(places, _Holes.seen(holes, rotation), rotation, box)
    ]
    enough = [one for one in found if 2 * one.matched >= len(places) and one.matched >= min(2, len(places))]
    return ZeroFound(_best(enough), len(places))


def drilled(motions: Motions, *, tools: Mapping[int, Tool] | None = None, work_offset: int = 1) -> Drilled:
    """Every place that a cycle or a straight plunge goes down to."""
    down = (motions.kind == MotionKind.FEED) & (motions.end[:, 2] < motions.start[:, 2]) & (motions.turn_deg == 0.0)
    straight = (motions.start[:, :2] == motions.end[:, :2]).all(axis=1) & motions.start_known.all(axis=1)
    rows = np.flatnonzero(down & straight & (motions.work_offset == work_offset) & _by_a_drill(motions, tools))
    if not len(rows):
        return Drilled(np.zeros((0, 2)), np.zeros(0), np.zeros(0))
    at, which = np.unique(np.round(motions.end[rows, :2], 3), axis=0, return_inverse=True)
    tip, diameter = np.full(len(at), np.nan), np.full(len(at), np.nan)
    for place, row in zip(which.reshape(-1), rows, strict=True):
        tool = (tools or {}).get(int(motions.tool[row]))
        makes_depth = tool is None or tool.shape not in _NO_DEPTH
        if makes_depth and not motions.end[row, 2] >= tip[place]:
            tip[place] = motions.end[row, 2] + (_point(tool.diameter_mm, tool.point_angle_deg) if tool else 0.0)
            diameter[place] = tool.diameter_mm if tool else np.nan
    return Drilled(at, tip, diameter)


def _by_a_drill(motions: Motions, tools: Mapping[int, Tool] | None) -> Flags:
    if tools is None:
        return np.ones(len(motions), np.bool_)
    numbers = [number for number, tool in tools.items() if tool.shape in _DRILLING]
    known: Flags = np.isin(motions.tool, numbers) | np.isin(motions.cycle, CYCLES)
    return known


def _point(diameter: float, angle_deg: float) -> float:
    """Length of a drill's point, mm."""
    return diameter / 2.0 / math.tan(math.radians(angle_deg) / 2.0) if 0.0 < angle_deg < 180.0 else 0.0


@dataclass(frozen=True)
class _Holes:
    """Upright holes as one orientation shows them: at (m, 2), top, bottom (m,) of the full diameter, point (m,) length
    under it, through (m,), least and most diameter (m,); mm."""

    at: Floats
    top: Floats
    bottom: Floats
    point: Floats
    through: Flags
    diameters: Floats

    @classmethod
    def seen(cls, holes: Sequence[Hole], rotation: Floats) -> _Holes:
        rows, points, sizes = [], [], []
        for hole in holes:
            upright = float(rotation[2] @ np.array(hole.axis))
            if upright < 1.0 - 1e-4 and not (hole.through and upright < -1.0 + 1e-4):
                continue
            x, y, z = rotation @ np.array(hole.position_mm)
            top = z if upright > 0.0 else z + hole.depth_mm
            point = _point(hole.diameter_mm, hole.point_angle_deg or 180.0) if hole.bottom == "pointed" else 0.0
            rows.append((x, y, top, top - hole.depth_mm, float(hole.through)))
            points.append(point)
            widest = max((step.from_diameter_mm for step in hole.steps), default=hole.diameter_mm)
            sizes.append((hole.diameter_mm, max(widest, hole.diameter_mm)))
        table = np.array(rows, dtype=np.float64).reshape(-1, 5)
        widths = np.array(sizes, dtype=np.float64).reshape(-1, 2)
        return cls(table[:, :2], table[:, 2], table[:, 3], np.array(points), table[:, 4] > 0.0, widths)


def _rotations() -> list[Floats]:
    """The 24 right-angle turns."""
    found = []
    for order in itertools.permutations(range(3)):
        for signs in itertools.product((1.0, -1.0), repeat=3):
            rotation = np.zeros((3, 3))
            rotation[range(3), order] = signs
            if np.linalg.det(rotation) > 0.0:
                found.append(rotation)
    return found


def _fitting(places: Drilled, holes: _Holes, rotation: Floats, box: Box) -> list[Proposal]:
    if not len(places) or not len(holes.at):
        return []
    found = []
    for shift in _shifts(places.at, holes.at):
        where, which, moved = _matched(places.at, holes.at, shift)
        fits = _size_fits(places.diameter[where], holes.diameters[which])
        where, which = where[fits], which[fits]
        if len(where):
            found.append(_proposal(places, holes, where, which, moved, rotation, box))
    return found


def _shifts(at: Floats, holes: Floats) -> list[Floats]:
    """Shifts that most pairs agree on. A bin's edge may part votes, so that bins are laid in four ways."""
    votes = (at[:, None, :] - holes[None, :, :]).reshape(-1, 2)
    best: dict[tuple[float, ...], Floats] = {}
    most = 0
    for aside in itertools.product((0.0, 0.5), repeat=2):
        bins, which, count = np.unique(
            np.floor(votes / (4 * NEAR_MM) + aside), axis=0, return_inverse=True, return_counts=True
        )
        if count.max() > most:
            most, best = int(count.max()), {}
        for number in np.flatnonzero(count == most)[:64] if count.max() == most else ():
            middle = np.median(votes[which.reshape(-1) == number], axis=0)
            best[tuple(np.round(middle, 1))] = middle
    return list(best.values())


def _matched(at: Floats, holes: Floats, shift: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Places and the holes they fall on, and the shift as the matched pairs have it in the mean."""
    for _ in range(2):
        apart = np.linalg.norm(at[:, None, :] - holes[None, :, :] - shift, axis=2)
        which = apart.argmin(axis=1)
        where = np.flatnonzero(apart.min(axis=1) <= NEAR_MM)
        if not len(where):
            break
        shift = (at[where] - holes[which[where]]).mean(axis=0)
    return where, which[where], shift


def _size_fits(drill: Floats, hole: Floats) -> Flags:
    """A drill goes into its hole: no wider than its mouth, and no thinner than what a thread or a reamer needs."""
    unknown = np.isnan(drill)
    fits: Flags = unknown | ((drill <= hole[:, 1] + 0.2) & (drill >= 0.75 * hole[:, 0]))
    return fits


def _proposal(
    places: Drilled, holes: _Holes, where: NDArray[np.intp], which: NDArray[np.intp], shift: Floats,
    rotation: Floats, box: Box,
) -> Proposal:  # fmt: skip
    apart = np.linalg.norm(places.at[where] - holes.at[which] - shift, axis=1)
    low, high, height_from = _heights(places, holes, where, which, rotation, box)
    z = {"part top": -_levels(rotation, box)[1], "part bottom": -_levels(rotation, box)[0]}.get(height_from, low)
    if height_from == "depths":
        z = (low + high) / 2.0
    low_each, high_each = _ranges(places, holes, where, which)
    known = ~np.isnan(places.tip[where])
    fits = known & (z >= low_each - 1e-6) & (z <= high_each + 1e-6)
    origin = (float(shift[0]) + 0.0, float(shift[1]) + 0.0, float(z) + 0.0)
    placement = Placement(tuple(float(value) + 0.0 for value in rotation.reshape(-1)), origin)
    return Proposal(
        placement, len(where), len(places), float(apart.max()), int(fits.sum()), height_from, (float(low), float(high))
    )


def _ranges(places: Drilled, holes: _Holes, where: NDArray[np.intp], which: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """What the height of the part's origin may be for each matched depth to agree."""
    blind_tip = np.where(
        np.isnan(places.diameter[where]), holes.bottom[which] - holes.point[which], holes.bottom[which]
    )
    exact = places.tip[where] - blind_tip
    through = places.tip[where] - holes.bottom[which]
    out = _THROUGH_DIAMETERS * holes.diameters[which, 0] + _THROUGH_MM
    is_through = holes.through[which]
    return np.where(is_through, through, exact - DEPTH_MM), np.where(is_through, through + out, exact + DEPTH_MM)


def _heights(
    places: Drilled, holes: _Holes, where: NDArray[np.intp], which: NDArray[np.intp], rotation: Floats, box: Box
) -> tuple[float, float, str]:
    """Range of the height of the part's origin, and what it follows from."""
    low, high = _ranges(places, holes, where, which)
    known = ~np.isnan(places.tip[where])
    blind = known & ~holes.through[which]
    if blind.any():
        middle = float(np.median((low[blind] + high[blind]) / 2.0))
        return middle, middle, "depths"
    if not known.any():
        return -math.inf, math.inf, ""
    lowest, highest = float(low[known].max()), float(high[known].min())
    bottom, top = _levels(rotation, box)
    if lowest <= -top <= highest:
        return lowest, highest, "part top"
    if lowest <= -bottom <= highest:
        return lowest, highest, "part bottom"
    return lowest, highest, ""


def _levels(rotation: Floats, box: Box) -> tuple[float, float]:
    """Lowest and highest Z of the turned part."""
    ends = rotation[2] @ np.array(box).T
    return float(ends.min()), float(ends.max())


def _best(found: list[Proposal]) -> tuple[Proposal, ...]:
    """Those with most matches, then most depths that agree, then the smallest residual; all that are equal in it."""
    if not found:
        return ()
    rank = max((one.matched, one.depth_fits) for one in found)
    first = [one for one in found if (one.matched, one.depth_fits) == rank]
    least = min(one.residual_mm for one in first)
    kept: dict[Placement, Proposal] = {}
    for one in first:
        if one.residual_mm <= least + SAME_MM:
            rounded = Placement(one.placement.rotation, _rounded(one.placement.origin_mm))
            kept.setdefault(rounded, one)
    return tuple(kept.values())


def _rounded(origin: Vector) -> Vector:
    x, y, z = (round(value, 2) for value in origin)
    return x, y, z
