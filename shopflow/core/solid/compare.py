"""Compares two revisions of a model, face by face and hole by hole: same, moved, changed, added, gone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, TypeVar

from shopflow.core.solid.graph import Vector, add, dot, norm, sub
from shopflow.core.solid.reading import Reading
from shopflow.core.solid.values import FaceFacts, Hole

SAME_MM = 0.005
"""Nearer than this is the same place or the same size to any shop."""
SAME_SHARE = 1e-5
"""Areas that differ by less than this share are the same."""
SAME_WAY = 0.9999

Item = TypeVar("Item", FaceFacts, Hole)
Pairs = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Changes:
    """Numbers in the first and in the second reading. Each number stands in one place only.

    same, moved (same size, another place), changed (same place, another size): pairs, first and second; gone: in the
    first only; added: in the second only.
    """

    same: Pairs
    moved: Pairs
    changed: Pairs
    gone: tuple[int, ...]
    added: tuple[int, ...]

    @property
    def is_none(self) -> bool:
        return not (self.moved or self.changed or self.gone or self.added)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Changes:
        same, moved, changed = (
            tuple((int(one), int(other)) for one, other in data[name]) for name in ("same", "moved", "changed")
        )
        gone, added = (tuple(int(number) for number in data[name]) for name in ("gone", "added"))
        return cls(same, moved, changed, gone, added)


@dataclass(frozen=True)
class Comparison:
    """What differs between two readings. shift_mm: how the whole second model lies against the first.

    faces: numbers as in the readings' `faces`; holes: places in their lists of holes.
    """

    shift_mm: Vector
    faces: Changes
    holes: Changes

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Comparison:
        """The comparison again; raises KeyError, TypeError or ValueError when the data is not one."""
        x, y, z = map(float, data["shift_mm"])
        return cls((x, y, z), Changes.from_json(data["faces"]), Changes.from_json(data["holes"]))


def compare(before: Reading, after: Reading) -> Comparison:
    """Compare two readings of one part; a model that was only put elsewhere as a whole counts as unchanged."""
    shift = sub(after.box_min_mm, before.box_min_mm)
    tries = [(0.0, 0.0, 0.0)] + ([shift] if norm(shift) > SAME_MM else [])
    faces = {way: _changes(before.faces, _moved_back(after.faces, way), _FACE_RULES) for way in tries}
    best = max(tries, key=lambda way: len(faces[way].same))
    back = tuple(replace(hole, position_mm=sub(hole.position_mm, best)) for hole in after.holes)
    return Comparison(best, faces[best], _changes(before.holes, back, _HOLE_RULES))


def _moved_back(faces: Sequence[FaceFacts], shift: Vector) -> list[FaceFacts]:
    return [replace(face, centre_mm=sub(face.centre_mm, shift)) for face in faces]


Rule = Callable[[Item, Item], float | None]
"""How far apart two items are when the rule takes them for a pair, else None."""


def _changes(before: Sequence[Item], after: Sequence[Item], rules: Sequence[Rule[Item]]) -> Changes:
    """Pair items by each rule in turn, the nearest first."""
    left, right = dict(enumerate(before)), dict(enumerate(after))
    found = [_pairs(left, right, rule) for rule in rules]
    return Changes(found[0], found[1], found[2], tuple(left), tuple(right))


def _pairs(left: dict[int, Item], right: dict[int, Item], rule: Rule[Item]) -> Pairs:
    """Pairs by one rule; takes them out of what is left."""
    near = [
        (gap, one, other) for one, a in left.items() for other, b in right.items() if (gap := rule(a, b)) is not None
    ]
    pairs = []
    for _, one, other in sorted(near):
        if one in left and other in right:
            del left[one], right[other]
            pairs.append((one, other))
    return tuple(sorted(pairs))


def _is_like(a: FaceFacts, b: FaceFacts) -> bool:
    """Whether two faces have the same kind, side and size."""
    same_area = abs(a.area_mm2 - b.area_mm2) <= SAME_SHARE * max(a.area_mm2, b.area_mm2) + SAME_MM**2
    return a.kind == b.kind and a.is_inside == b.is_inside and abs(a.radius_mm - b.radius_mm) < SAME_MM and same_area


def _looks_alike(a: FaceFacts, b: FaceFacts) -> bool:
    return dot(a.normal, b.normal) > SAME_WAY


def _same_face(a: FaceFacts, b: FaceFacts) -> float | None:
    gap = norm(sub(a.centre_mm, b.centre_mm))
    return gap if gap < SAME_MM and _is_like(a, b) and _looks_alike(a, b) else None


def _moved_face(a: FaceFacts, b: FaceFacts) -> float | None:
    if not _is_like(a, b) or not _looks_alike(a, b):
        return None
    if a.kind == "plane" and abs(_level(a) - _level(b)) < SAME_MM:
        return None  # a face of the same plane was cut another way, it did not travel
    return norm(sub(a.centre_mm, b.centre_mm))


def _changed_face(a: FaceFacts, b: FaceFacts) -> float | None:
    """The same plane with another outline, or a round face about the same middle."""
    if a.kind != b.kind or a.is_inside != b.is_inside or not _looks_alike(a, b):
        return None
    gap = norm(sub(a.centre_mm, b.centre_mm))
    reach = (a.area_mm2**0.5 + b.area_mm2**0.5) / 2
    if a.kind == "plane":
        return gap if gap < reach and abs(_level(a) - _level(b)) < SAME_MM else None
    return gap if gap < reach / 2 else None


def _level(face: FaceFacts) -> float:
    return dot(face.centre_mm, face.normal)


def _hole_sizes(hole: Hole) -> tuple[float, ...]:
    numbers = (hole.diameter_mm, hole.depth_mm, hole.counterbore_mm, hole.counterbore_depth_mm, hole.countersink_mm)
    return tuple(number or 0.0 for number in numbers)


def _is_like_hole(a: Hole, b: Hole) -> bool:
    sizes = zip(_hole_sizes(a), _hole_sizes(b), strict=True)
    return a.bottom == b.bottom and all(abs(one - other) < SAME_MM for one, other in sizes)


def _is_along(a: Hole, b: Hole) -> bool:
    return dot(a.axis, b.axis) > SAME_WAY


def _same_hole(a: Hole, b: Hole) -> float | None:
    gap = norm(sub(a.position_mm, b.position_mm))
    return gap if gap < SAME_MM and _is_like_hole(a, b) and _is_along(a, b) else None


def _moved_hole(a: Hole, b: Hole) -> float | None:
    return norm(sub(a.position_mm, b.position_mm)) if _is_like_hole(a, b) and _is_along(a, b) else None


def _changed_hole(a: Hole, b: Hole) -> float | None:
    """Another size about the same axis."""
    between = sub(a.position_mm, b.position_mm)
    off_axis = norm(add(between, a.axis, -dot(between, a.axis)))
    return norm(between) if off_axis < a.diameter_mm / 2 and _is_along(a, b) else None


_FACE_RULES: tuple[Rule[FaceFacts], ...] = (_same_face, _moved_face, _changed_face)
_HOLE_RULES: tuple[Rule[Hole], ...] = (_same_hole, _moved_hole, _changed_hole)
