"""Grooves round an outside, as for a ring: told from the boxes of round faces and of the flat rings beside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import pi

from shopflow.core.planning.directions import flat_axes, name_of, opposite
from shopflow.core.planning.face_boxes import heights, length_of, span
from shopflow.core.planning.sights import is_in_sight
from shopflow.core.planning.slots.side_slot import SideSlot
from shopflow.core.solid.reading import FaceFacts

SAME_MM = 0.02
ROUND_SHARE = 0.02
"""A mesh's box of a round face is smaller than the face by less than this share."""


def rings_of(faces: Sequence[FaceFacts]) -> Iterator[SideSlot]:
    """Grooves round an outside: a round floor between two flat rings, with a wider round beside it."""
    rounds = [face for face in faces if face.kind == "cylinder" and not face.is_inside and face.radius_mm > 0]
    rings = [face for face in faces if face.kind == "plane" and name_of(face.normal)]
    for height in range(3):
        up = f"+{'XYZ'[height]}"
        for whole in _whole(rounds, up):
            span, centre = heights(whole[0], up), _centre(whole, up)
            roof = _ring(rings, opposite(up), span[1], centre, up)
            floor = _ring(rings, up, span[0], centre, up)
            if roof is None or floor is None:
                continue
            wide = min(_width(roof, up), _width(floor, up)) / 2
            lands = [
                face for other in _whole(rounds, up) for face in other
                if _near(_centre(other, up), centre) and face.radius_mm >= wide * (1 - ROUND_SHARE)
            ]  # fmt: skip
            own = whole[0].radius_mm
            outer = min((face.radius_mm for face in lands), default=0.0)
            sides = [side for side in (up, opposite(up)) if lands and all(is_in_sight(face, side) for face in lands)]
            if outer > own + SAME_MM and sides:
                numbers = (*(face.index for face in whole), roof.index, floor.index)
                top = max(heights(face, sides[0])[1] for face in lands)
                deep = top - min(heights(face, sides[0])[0] for face in whole)
                yield SideSlot("groove", sides[0], numbers, 2 * own, 0.0, length_of(span), outer - own, deep,
                               2 * pi * own, others=tuple(sides[1:]))  # fmt: skip


def _whole(rounds: Sequence[FaceFacts], up: str) -> list[list[FaceFacts]]:
    """Round faces of one radius and stretch that make a full turn about this axis, in one piece or several."""
    groups: dict[tuple[float, ...], list[FaceFacts]] = {}
    for face in rounds:
        low, high = heights(face, up)
        groups.setdefault((round(face.radius_mm, 2), round(low, 1), round(high, 1)), []).append(face)
    return [some for some in groups.values() if _is_full_turn(some, up)]


def _is_full_turn(faces: Sequence[FaceFacts], up: str) -> bool:
    radius, high = faces[0].radius_mm, length_of(heights(faces[0], up))
    area = sum(face.area_mm2 for face in faces)
    whole = abs(area - 2 * pi * radius * high) < ROUND_SHARE * area
    return whole and all(abs(_box_width(faces, axis) - 2 * radius) < ROUND_SHARE * 2 * radius for axis in flat_axes(up))


def _ring(rings: Sequence[FaceFacts], looks: str, level: float, centre: tuple[float, ...], up: str) -> FaceFacts | None:
    """The flat face at this height round this centre."""
    return next(
        (
            face
            for face in rings
            if name_of(face.normal) == looks
            and abs(heights(face, up)[0] - level) < SAME_MM
            and _near(_centre([face], up), centre)
        ),
        None,
    )


def _box_width(faces: Sequence[FaceFacts], axis: int) -> float:
    spans = [span(face, axis) for face in faces]
    return max(high for _, high in spans) - min(low for low, _ in spans)


def _width(face: FaceFacts, up: str) -> float:
    return min(length_of(span(face, axis)) for axis in flat_axes(up))


def _centre(faces: Sequence[FaceFacts], up: str) -> tuple[float, ...]:
    return tuple(
        (min(span(face, axis)[0] for face in faces) + max(span(face, axis)[1] for face in faces)) / 2
        for axis in flat_axes(up)
    )


def _near(one: Sequence[float], other: Sequence[float]) -> bool:
    """The mesh of a round face may end a little short of its widest places."""
    return all(abs(a - b) < 0.2 for a, b in zip(one, other, strict=True))
