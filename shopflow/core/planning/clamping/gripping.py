"""Which flat faces a vise closes on: opposite each other, down where the jaws are, and cut by then.

Seen from the setup: heights count up from the part's underside. The part is taken as finished; what a later setup cuts
off is taken as gone, so that nothing is held that may not be there. What is enough to hold is common practice with no
source.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from shopflow.core.planning.directions import AXES, SAME_WAY, along, flat_axes, height_axis, opposite
from shopflow.core.planning.face_boxes import Span, span
from shopflow.core.planning.sights import is_in_sight, sides_of
from shopflow.core.solid.reading import FaceFacts, Reading
from shopflow.core.types import Vector

SAME_MM = 0.02
"""Faces as far out as this are at the part's side."""
LEAST_LENGTH_MM = 10.0
LEAST_LENGTH_SHARE = 0.25
"""Of the part's length along the jaws: flat sides shorter than both let it swivel."""
LEAST_BAND_SHARE = 0.75
"""Of the height of the grip: a side that is flat over less of it is not held by it."""
LEAST_UNDER_SHARE = 0.05
"""Of the area of the part's box from above: less flat to stand on, and it rocks."""
WALL = 0.1


@dataclass(frozen=True)
class Clasp:
    """Two opposite sides that a vise can close on.

    axis: 0, 1 or 2 of the model, along which the jaws close. apart_mm: their opening. from_mm, to_mm: heights between
    which both sides are flat. length_mm: how much of them lies opposite, along the jaws.
    """

    axis: int
    apart_mm: float
    from_mm: float
    to_mm: float
    length_mm: float


@dataclass(frozen=True)
class Stand:
    """The part as it stands in one setup. before: sides that were up in the setups before."""

    up: str
    before: tuple[str, ...]
    reading: Reading

    @property
    def is_known(self) -> bool:
        """Whether the reading says how far its faces reach; one of an earlier version does not."""
        return any(face.low_mm is not None for face in self.reading.faces)

    def heights(self, face: FaceFacts) -> Span:
        """From the part's underside to the face's lower and upper end."""
        axis = height_axis(self.up)
        low, high = span(face, axis)
        if self.up[0] == "+":
            return low - self.reading.box_min_mm[axis], high - self.reading.box_min_mm[axis]
        return self.reading.box_max_mm[axis] - high, self.reading.box_max_mm[axis] - low

    def height_of(self, point: Vector) -> float:
        """Over the part's underside."""
        axis = height_axis(self.up)
        if self.up[0] == "+":
            return point[axis] - self.reading.box_min_mm[axis]
        return self.reading.box_max_mm[axis] - point[axis]

    def is_cut(self, face: FaceFacts) -> bool:
        """Whether a setup before this one saw it; where nobody looked, it counts as cut."""
        return not face.seen or all(sides_of(place).intersection(self.before) for place in face.seen)

    def at_side(self, side: str) -> list[FaceFacts]:
        """Flat faces that are the part's outermost on this side, and cut by now."""
        axis, box = height_axis(side), (self.reading.box_min_mm, self.reading.box_max_mm)
        outermost = box[side[0] == "+"][axis]
        return [
            face
            for face in self.reading.faces
            if face.kind == "plane"
            and face.low_mm is not None
            and along(face.normal, AXES[side]) >= SAME_WAY
            and abs(span(face, axis)[0] - outermost) <= SAME_MM
            and self.is_cut(face)
        ]

    @property
    def stands_flat(self) -> bool:
        """Whether enough of its underside is flat to stand on parallels."""
        below = self.at_side(opposite(self.up))
        a, b = (self.reading.bbox_mm[axis] for axis in flat_axes(self.up))
        return sum(face.area_mm2 for face in below) >= LEAST_UNDER_SHARE * a * b


def clasps(stand: Stand, grip_mm: float) -> list[Clasp]:
    """The pairs of sides that hold over this height of grip, the narrower opening first."""
    found = (_clasp(stand, axis, grip_mm) for axis in flat_axes(stand.up))
    return sorted(filter(None, found), key=lambda one: one.apart_mm)


def _clasp(stand: Stand, axis: int, grip_mm: float) -> Clasp | None:
    """The lowest band of this height that both sides are flat in, over enough length."""
    one, other = (stand.at_side(f"{sign}{'XYZ'[axis]}") for sign in "+-")
    (run,) = {0, 1, 2} - {axis, height_axis(stand.up)}
    enough = min(max(LEAST_LENGTH_MM, LEAST_LENGTH_SHARE * stand.reading.bbox_mm[run]), stand.reading.bbox_mm[run])
    tall = stand.reading.bbox_mm[height_axis(stand.up)]
    for height in sorted({stand.heights(face)[0] for face in (*one, *other)}):
        start = height if height > SAME_MM else 0.0
        band = (start, start + grip_mm)
        if start > tall / 2:
            break
        holding = [[face for face in side if _covers(stand.heights(face), band)] for side in (one, other)]
        length = _shared([_spans(side, run) for side in holding]) * min(
            map(_fill, (*holding[0], *holding[1])), default=0
        )
        if length >= enough * (1 - 1e-9):
            top = min(max(stand.heights(face)[1] for face in side) for side in holding)
            return Clasp(axis, stand.reading.bbox_mm[axis], start, top, length)
    return None


def outside_cut_mm(stand: Stand, axis: int, inside: Collection[int]) -> float | None:
    """The lowest height at which this setup cuts a wall that looks to the jaws; None where it cuts none.

    axis: along which the jaws close. inside: faces of holes and closed pockets, whose cutter stays within the part.
    """
    way = AXES[f"+{'XYZ'[axis]}"]
    cut = [
        stand.heights(face)[0]
        for face in stand.reading.faces
        if face.low_mm is not None
        and face.index not in inside
        and abs(along(face.normal, way)) > WALL
        and abs(along(face.normal, AXES[stand.up])) < 1 - WALL
        and not stand.is_cut(face)
        and is_in_sight(face, stand.up)
    ]
    return min(cut, default=None)


def inside_faces(reading: Reading) -> set[int]:
    """Faces of holes and of pockets with walls all round."""
    pockets = (pocket for pocket in reading.pockets if pocket.closed or pocket.kind == "through pocket")
    walls = {face for pocket in pockets for face in pocket.faces}
    return walls | {face for hole in reading.holes for face in hole.faces}


def round_outside_mm(stand: Stand) -> float | None:
    """The diameter of a part that is round about the axis that is up, and nowhere wider; None where it is not."""
    a, b = (stand.reading.bbox_mm[axis] for axis in flat_axes(stand.up))
    is_round = abs(a - b) <= SAME_MM and any(
        face.kind == "cylinder" and not face.is_inside and abs(2 * face.radius_mm - a) <= 2 * SAME_MM
        for face in stand.reading.faces
    )
    return a if is_round else None


def _covers(heights: Span, band: Span) -> bool:
    shared = min(heights[1], band[1]) - max(heights[0], band[0])
    return shared >= LEAST_BAND_SHARE * (band[1] - band[0]) - 1e-9


def _fill(face: FaceFacts) -> float:
    """How much of its own box a face fills: a frame and a triangle hold less than a rectangle."""
    sizes = sorted((high - low for low, high in (span(face, axis) for axis in range(3))), reverse=True)
    return min(face.area_mm2 / max(sizes[0] * sizes[1], 1e-9), 1.0)


def _spans(faces: Iterable[FaceFacts], axis: int) -> list[Span]:
    """Stretches that some face lies on, without overlaps, from low to high."""
    merged: list[Span] = []
    for low, high in sorted(span(face, axis) for face in faces):
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return merged


def _shared(sides: Sequence[Sequence[Span]]) -> float:
    """Length that both have."""
    return sum(max(0.0, min(a[1], b[1]) - max(a[0], b[0])) for a in sides[0] for b in sides[1])
