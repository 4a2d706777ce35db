"""T-slots, dovetails and grooves round an outside: undercuts that a cutter wider than its neck makes from one side.

They are told from the faces of a reading, each by its box, its direction and the sides that see it; a reading of an
earlier version says neither, and then nothing is told. Grooves in bores belong to their holes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import asin, degrees

from shopflow.core.planning.directions import AXES, along, flat_axes, name_of, opposite
from shopflow.core.planning.face_boxes import Span, heights, length_of, span
from shopflow.core.planning.sights import is_in_sight, most_of
from shopflow.core.planning.slots.ring_grooves import rings_of
from shopflow.core.planning.slots.side_slot import SideSlot
from shopflow.core.solid.reading import FaceFacts, Reading

SAME_MM = 0.02
LEAST_RUN = 3.0
"""Lengths over height: a shorter slot is a pocket, cut from its end."""
SLOPE = (0.1, 0.95)
"""How much a dovetail's flank looks down: cosines of its normal to the side below."""


def side_slots(reading: Reading) -> list[SideSlot]:
    """All that are found; no face is in two of them."""
    with_holes = {face for hole in reading.holes for face in hole.faces}
    faces = [face for face in reading.faces if face.low_mm is not None and face.seen and face.index not in with_holes]
    planes = [face for face in faces if face.kind == "plane"]
    found: list[SideSlot] = []
    used: set[int] = set()
    for one in (*_straight(planes), *rings_of(faces)):
        if not used.intersection(one.faces):
            used |= set(one.faces)
            found.append(one)
    return found


def _straight(planes: Sequence[FaceFacts]) -> Iterator[SideSlot]:
    """Pairs of roofs on both sides of a neck, over one floor."""
    for up in AXES:
        roofs = [face for face in planes if _hangs_over(face, up)]
        floors = [face for face in planes if name_of(face.normal) == up]
        for one, other in combinations(roofs, 2):
            for axis in flat_axes(up):
                if (slot := _slot(up, axis, one, other, floors, planes)) is not None:
                    yield slot


def _hangs_over(face: FaceFacts, up: str) -> bool:
    """Looks down, wholly or with a dovetail's slope, and not into the open."""
    down = -along(face.normal, AXES[up])
    if name_of(face.normal) == opposite(up):
        return opposite(up) not in (most_of(face) or ())
    return (
        SLOPE[0] < down < SLOPE[1] and any(abs(part) < 1e-3 for part in face.normal) and up not in (most_of(face) or ())
    )


def _slot(
    up: str, axis: int, one: FaceFacts, other: FaceFacts, floors: Sequence[FaceFacts], planes: Sequence[FaceFacts]
) -> SideSlot | None:
    """axis: across the slot."""
    (run,) = set(flat_axes(up)) - {axis}
    left, right = sorted((one, other), key=lambda face: span(face, axis))
    a, b = span(left, axis), span(right, axis)
    is_slanted = name_of(one.normal) is None
    level = heights(left, up)
    if is_slanted and left.normal[axis] * right.normal[axis] >= 0:
        return None
    if a[1] >= b[0] - SAME_MM or not _same(level, heights(right, up)) or not _same(span(left, run), span(right, run)):
        return None
    floor = next((face for face in floors if _lies_under(face, up, level, axis, (a, b), run, span(left, run))), None)
    if floor is None or not is_slanted and abs(a[0] - span(floor, axis)[0]) > SAME_MM:
        return None
    bottom, length = heights(floor, up)[0], length_of(span(floor, run))
    high = level[1] - bottom
    if high < SAME_MM or length < LEAST_RUN * high:
        return None
    way = f"{'XYZ'[run]}"
    if not {f"+{way}", f"-{way}"} & (most_of(left) or frozenset()):
        return None
    within = {axis: (a[0], b[1]), run: span(floor, run)}
    ends = [face.index for face in planes if _ends(face, up, run, within, bottom)]
    if is_slanted:
        return _dovetail(up, (left, right, floor), ends, axis, high, length)
    sides = [face for face in planes if _is_side(face, up, axis, (a[0], b[1]), (bottom, level[1]))]
    necks = [
        face for face in planes if _is_side(face, up, axis, (a[1], b[0]), (level[1], None)) and is_in_sight(face, up)
    ]
    if len(necks) < 2 or len(sides) < 2:
        return None
    mouth = max(heights(face, up)[1] for face in necks)
    numbers = (*(face.index for face in (left, right, floor, *sides)), *ends)
    return SideSlot(
        "T-slot", up, numbers, b[1] - a[0], b[0] - a[1], high, max(length_of(a), length_of(b)), mouth - bottom, length
    )


def _dovetail(
    up: str, faces: tuple[FaceFacts, FaceFacts, FaceFacts], ends: list[int], axis: int, high: float, length: float
) -> SideSlot | None:
    left, right, floor = faces
    across = span(right, axis)[1] - span(left, axis)[0]
    beside = length_of(span(left, axis))
    angle = 90.0 - _slope_deg(left, up)
    numbers = (*(face.index for face in faces), *ends)
    return SideSlot("dovetail", up, numbers, across, across - 2 * beside, high, beside, high, length, round(angle, 2))


def _slope_deg(face: FaceFacts, up: str) -> float:
    """Of a flank that hangs over, its lean from upright."""
    return degrees(asin(min(1.0, -along(face.normal, AXES[up]))))


def _lies_under(
    face: FaceFacts, up: str, level: Span, axis: int, sides: tuple[Span, ...], run: int,
    along_run: Span,
) -> bool:  # fmt: skip
    """Whether it is the floor of both roofs."""
    low, high = span(face, axis)
    covers = low <= sides[0][0] + SAME_MM and high >= sides[1][1] - SAME_MM
    below = (
        heights(face, up)[1] <= level[0] + SAME_MM if level[1] - level[0] > SAME_MM else heights(face, up)[1] < level[0]
    )
    return covers and below and _same(span(face, run), along_run) and high - low <= sides[1][1] - sides[0][0] + SAME_MM


def _ends(face: FaceFacts, up: str, run: int, within: dict[int, Span], bottom: float) -> bool:
    """Whether it closes the slot at an end: square to its way, over its floor, and no wider than it."""
    looks = name_of(face.normal)
    if looks is None or "XYZ".index(looks[1]) != run or heights(face, up)[0] < bottom - SAME_MM:
        return False
    return all(low - SAME_MM <= span(face, axis)[0] and span(face, axis)[1] <= high + SAME_MM
               for axis, (low, high) in within.items())  # fmt: skip


def _is_side(face: FaceFacts, up: str, axis: int, places: Span, reach: tuple[float, float | None]) -> bool:
    """A wall across this axis at one of two places, that begins at the lower height."""
    low, high = span(face, axis)
    starts, ends = heights(face, up)
    at = any(abs(low - place) < SAME_MM and abs(high - place) < SAME_MM for place in places)
    return at and abs(starts - reach[0]) < SAME_MM and (reach[1] is None or abs(ends - reach[1]) < SAME_MM)


def _same(one: Span, other: Span) -> bool:
    return abs(one[0] - other[0]) < SAME_MM and abs(one[1] - other[1]) < SAME_MM
