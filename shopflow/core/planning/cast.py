"""A blank that is a solid of its own: a casting, a near-net blank, what somebody else's first op left.

It lies in the coordinates of the part's model. What it already has is not cut again; what stands on it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from shopflow.core.planning.directions import AXES, along, height_axis
from shopflow.core.planning.needs import FarMouth, Need
from shopflow.core.planning.side_work import pocket_mm3
from shopflow.core.solid.reading import Hole, PlaneGroup, Pocket, Reading
from shopflow.core.types import Vector

TO_SIZE_MM = 0.05
"""Stock thinner than this is none: no casting comes that near, so whoever modelled it meant the finished face."""
PARALLEL = 1 - 1e-3
MOST_ASIDE = 0.5
"""A core lies aside of its hole by this share of the hole's radius at the most (common practice, no source)."""
WHOLE = 0.98
"""A face or recess is there already when the blank has so much of it."""


@dataclass(frozen=True)
class Cast:
    """What the blank's model says beside the part's. over_mm: by side, how far it stands over the part's box; negative
    where the part stands out of it."""

    blank: Reading
    over_mm: Mapping[str, float]

    @property
    def size_mm(self) -> Vector:
        return self.blank.bbox_mm

    def cored_mm(self, hole: Hole) -> float:
        """Diameter of the blank's own hole in its place, 0 where there is none."""
        own = [one for one in self.blank.holes if _is_in_place(one, hole) and one.depth_mm >= WHOLE * hole.depth_mm]
        return max((one.diameter_mm for one in own), default=0.0)

    def left_mm3(self, pocket: Pocket) -> float:
        """What is left to cut in a pocket of the part."""
        own = max((pocket_mm3(one) for one in self.blank.pockets if _is_same_recess(one, pocket)), default=0.0)
        return max(pocket_mm3(pocket) - own, 0.0)

    def has(self, need: Need) -> bool:
        """Whether nothing of it is left to cut."""
        feature = need.feature
        if isinstance(feature, FarMouth):
            feature = feature.hole
        if isinstance(feature, Hole):
            return any(_is_in_place(one, feature) and _is_same_hole(one, feature) for one in self.blank.holes)
        if isinstance(feature, Pocket):
            return self.left_mm3(feature) <= (1 - WHOLE) * pocket_mm3(feature)
        if isinstance(feature, PlaneGroup):
            return all(self._has_level(feature.direction, one.level_mm, one.area_mm2) for one in feature.levels)
        return False

    def _has_level(self, direction: Vector, level_mm: float, area_mm2: float) -> bool:
        groups = [group for group in self.blank.planes if along(group.direction, direction) > PARALLEL]
        levels = [level for group in groups for level in group.levels]
        there = sum(level.area_mm2 for level in levels if abs(level.level_mm - level_mm) <= TO_SIZE_MM)
        return there >= WHOLE * area_mm2


def cast_of(part: Reading, blank: Reading) -> Cast:
    """Both in the same coordinates."""
    over = {}
    for side in AXES:
        axis = height_axis(side)
        above = blank.box_max_mm[axis] - part.box_max_mm[axis]
        below = part.box_min_mm[axis] - blank.box_min_mm[axis]
        over[side] = above if side[0] == "+" else below
    return Cast(blank, over)


def still_needed(needs: Sequence[Need], cast: Cast | None) -> tuple[list[Need], list[Need]]:
    """What is left to cut, and what the blank has already. Where nothing would be left, all of it is."""
    if cast is None:
        return list(needs), []
    there = [need for need in needs if cast.has(need)]
    left = [need for need in needs if not cast.has(need)]
    return (left, there) if left else (list(needs), [])


def _is_in_place(one: Hole, other: Hole) -> bool:
    """On the same axis, as near as a core is set."""
    if abs(along(one.axis, other.axis)) < PARALLEL:
        return False
    return _aside_mm(one.position_mm, other.position_mm, other.axis) <= MOST_ASIDE * other.diameter_mm / 2


def _is_same_hole(one: Hole, other: Hole) -> bool:
    """As wide, as wide at its mouths, and as deep: in stock that is faced off it is deeper."""
    if one.depth_mm < other.depth_mm - TO_SIZE_MM:
        return False
    pairs = (
        (one.diameter_mm, other.diameter_mm),
        (one.counterbore_mm or one.far_counterbore_mm, other.counterbore_mm or other.far_counterbore_mm),
        (one.countersink_mm or one.far_countersink_mm, other.countersink_mm or other.far_countersink_mm),
    )
    return all(abs((a or 0.0) - (b or 0.0)) <= TO_SIZE_MM for a, b in pairs)


def _is_same_recess(one: Pocket, other: Pocket) -> bool:
    if along(one.axis, other.axis) < PARALLEL:
        return False
    wide = other.width_mm or other.length_mm
    return _aside_mm(one.position_mm, other.position_mm, other.axis) <= MOST_ASIDE * wide / 2


def _aside_mm(one: Vector, other: Vector, axis: Vector) -> float:
    """How far a point lies from the line through another along an axis."""
    way = [a - b for a, b in zip(one, other, strict=True)]
    lengthwise = sum(a * b for a, b in zip(way, axis, strict=True))
    return sqrt(max(sum(a * a for a in way) - lengthwise**2, 0.0))
