"""A blank that is a solid of its own: a casting, a near-net blank, what somebody else's first op left.

It lies in the coordinates of the part's model. What it already has is not cut again; what stands on it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from shopflow.core.planning.directions import AXES, height_axis, is_same_way
from shopflow.core.planning.needs import FarMouth, Need
from shopflow.core.planning.side_work import pocket_mm3
from shopflow.core.solid.reading import FaceFacts, Hole, PlaneGroup, Pocket, Reading
from shopflow.core.types import Vector

TO_SIZE_MM = 0.05
"""Stock thinner than this is none: no casting comes that near, so whoever modelled it meant the finished face."""
MOST_ASIDE = 0.5
"""A core lies aside of its hole by this share of the hole's radius at the most (common practice, no source)."""
WHOLE = 0.98
"""A face or recess is there already when the blank has so much of it."""


@dataclass(frozen=True)
class Cast:
    """What the blank's model says beside the part's. over_mm: by side, how far it stands over the part's box; negative
    where the part stands out of it. faces: the part's, by their numbers."""

    blank: Reading
    over_mm: Mapping[str, float]
    faces: Mapping[int, FaceFacts]

    @property
    def size_mm(self) -> Vector:
        return self.blank.bbox_mm

    def cored_mm(self, hole: Hole) -> float:
        """Diameter of the largest cylinder on the hole's axis that is open in the blank all along it; 0 for none."""
        own = self._own(hole)
        return max(
            (one.diameter_mm - 2 * _aside_mm(one.position_mm, hole.position_mm, hole.axis) for one in own), default=0.0
        )

    def is_too_wide(self, hole: Hole) -> bool:
        """Whether the blank's own hole is wider than the finished one, so that nothing can be cut to size."""
        return any(one.diameter_mm > hole.diameter_mm + TO_SIZE_MM for one in self._own(hole))

    def _own(self, hole: Hole) -> list[Hole]:
        """The blank's holes where this one is to be."""
        return [one for one in self.blank.holes if _is_in_place(one, hole) and _is_along(one, hole)]

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
            return any(_is_same_hole(one, feature) for one in self._own(feature))
        if isinstance(feature, Pocket):
            return self.left_mm3(feature) <= (1 - WHOLE) * pocket_mm3(feature)
        if isinstance(feature, PlaneGroup):
            return all(self._has_face(face, feature.direction) for level in feature.levels for face in level.faces)
        return False

    def _has_face(self, number: int, direction: Vector) -> bool:
        """Whether a plane face of the part lies in one of the blank's, which may be wider."""
        face = self.faces.get(number)
        if face is None:
            return False
        same = [
            one for one in self.blank.faces
            if one.kind == "plane" and is_same_way(one.normal, direction) and _is_inside(face, one)
        ]  # fmt: skip
        return any(one.area_mm2 >= WHOLE * face.area_mm2 for one in same)


def cast_of(part: Reading, blank: Reading) -> Cast:
    """Both in the same coordinates."""
    over = {}
    for side in AXES:
        axis = height_axis(side)
        above = blank.box_max_mm[axis] - part.box_max_mm[axis]
        below = part.box_min_mm[axis] - blank.box_min_mm[axis]
        over[side] = above if side[0] == "+" else below
    return Cast(blank, over, {face.index: face for face in part.faces})


def still_needed(needs: Sequence[Need], cast: Cast | None) -> tuple[list[Need], list[Need]]:
    """What is left to cut, and what the blank has already. Where nothing would be left, all of it is."""
    if cast is None:
        return list(needs), []
    there = [need for need in needs if cast.has(need)]
    left = [need for need in needs if not cast.has(need)]
    return (left, there) if left else (list(needs), [])


def _is_in_place(one: Hole, other: Hole) -> bool:
    """On the same axis, as near as a core is set."""
    if not (is_same_way(one.axis, other.axis) or is_same_way(_turned(one.axis), other.axis)):
        return False
    return _aside_mm(one.position_mm, other.position_mm, other.axis) <= MOST_ASIDE * other.diameter_mm / 2


def _turned(way: Vector) -> Vector:
    return -way[0], -way[1], -way[2]


def _is_along(one: Hole, other: Hole) -> bool:
    """Whether it is open over nearly all of the other's depth: in stock that is faced off it is deeper."""
    (low, high), (least, most) = _depths(one, other.axis), _depths(other, other.axis)
    return min(high, most) - max(low, least) >= WHOLE * (most - least)


def _depths(hole: Hole, axis: Vector) -> tuple[float, float]:
    """Where its full bore lies, as lengths from the origin along an axis that is its own or its own turned round."""
    mouth = sum(a * b for a, b in zip(hole.position_mm, axis, strict=True))
    end = mouth - hole.depth_mm * (1.0 if is_same_way(hole.axis, axis) else -1.0)
    return min(mouth, end), max(mouth, end)


def _is_inside(face: FaceFacts, other: FaceFacts) -> bool:
    """Whether the box of a plane face lies in another's, and in the same plane."""
    if face.low_mm is None or face.high_mm is None or other.low_mm is None or other.high_mm is None:
        return False
    lows, highs = zip(face.low_mm, other.low_mm, strict=True), zip(face.high_mm, other.high_mm, strict=True)
    level = abs(sum((a - b) * n for a, b, n in zip(face.centre_mm, other.centre_mm, face.normal, strict=True)))
    is_within = all(a >= b - TO_SIZE_MM for a, b in lows) and all(a <= b + TO_SIZE_MM for a, b in highs)
    return is_within and level <= TO_SIZE_MM


def _is_same_hole(one: Hole, other: Hole) -> bool:
    """As wide, and as wide at its mouths."""
    pairs = (
        (one.diameter_mm, other.diameter_mm),
        (one.counterbore_mm or one.far_counterbore_mm, other.counterbore_mm or other.far_counterbore_mm),
        (one.countersink_mm or one.far_countersink_mm, other.countersink_mm or other.far_countersink_mm),
    )
    return all(abs((a or 0.0) - (b or 0.0)) <= TO_SIZE_MM for a, b in pairs)


def _is_same_recess(one: Pocket, other: Pocket) -> bool:
    if not is_same_way(one.axis, other.axis):
        return False
    wide = other.width_mm or other.length_mm
    way = sum((a - b) * c for a, b, c in zip(one.position_mm, other.position_mm, other.axis, strict=True))
    is_near = _aside_mm(one.position_mm, other.position_mm, other.axis) <= MOST_ASIDE * wide / 2
    return is_near and abs(way) < max(one.depth_mm, other.depth_mm)


def _aside_mm(one: Vector, other: Vector, axis: Vector) -> float:
    """How far a point lies from the line through another along an axis."""
    way = [a - b for a, b in zip(one, other, strict=True)]
    lengthwise = sum(a * b for a, b in zip(way, axis, strict=True))
    return sqrt(max(sum(a * a for a in way) - lengthwise**2, 0.0))
