""",R and ,C: corners rounded or chamfered between two straight feeds (common practice, no source).

A block with such a word ends short of its corner; the next block begins behind it. So a row is held until the next one
across the plane is known.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from shopflow.core.nc.state import NAMES
from shopflow.core.types import MotionKind

Row = tuple[Any, ...]
Point = tuple[float, float]

_KIND, _LINE, _START, _END, _CENTRE, _TURN = (
    NAMES.index(name) for name in ("kind", "line", "start", "end", "centre", "turn_deg")
)
STRAIGHT_ON = 1e-9
FITS_MM = 1e-9


class CornerWords:
    """Rows go through it in order. `give` takes the rows that are ready, `refuse` a line and a reason."""

    def __init__(self, *, give: Callable[[Row], None], refuse: Callable[[int, str], None]) -> None:
        self._give, self._refuse = give, refuse
        self._held: tuple[Row, str, float] | None = None
        self._next: tuple[str, float] | None = None

    def hold(self, letter: str, size_mm: float) -> None:
        """The next row ends in a corner: rounded (R, its radius) or chamfered (C, how far before the corner)."""
        self._next = (letter, size_mm)

    @property
    def is_idle(self) -> bool:
        return self._held is None and self._next is None

    @property
    def held(self) -> int:
        """How many rows it has taken and not given out yet."""
        return int(self._held is not None)

    def push(self, row: Row) -> None:
        """Take the next row."""
        if self._held is not None:
            row = self._turn_corner(*self._held, row)
            self._held = None
        if self._next is not None:
            self._held = (row, *self._next)
            self._next = None
        else:
            self._give(row)

    def close(self) -> None:
        """Nothing follows: the corner was never turned."""
        if self._held is not None:
            row, letter, _ = self._held
            self._refuse(row[_LINE], f",{letter} with no move behind it")
            self._give(row)
        self._held = self._next = None

    def _turn_corner(self, held: Row, letter: str, size: float, row: Row) -> Row:
        """Give out the shortened move and the corner; the move behind it, shortened too."""
        corner = (held[_END][0], held[_END][1])
        back, ahead = _way(held, back=True), _way(row, back=False)
        why = _why_not(held, row, back, ahead)
        cut = 0.0 if why else _cut_back(letter, size, back, ahead)
        if cut > min(math.dist(held[_START][:2], corner), math.dist(row[_END][:2], corner)) + FITS_MM:
            why = f"its corner of {size:.4f} mm is longer than a move beside it"
        if why:
            self._refuse(held[_LINE], f",{letter}: {why}")
            self._give(held)
            return row
        end = (corner[0] + cut * back[0], corner[1] + cut * back[1])
        begin = (corner[0] + cut * ahead[0], corner[1] + cut * ahead[1])
        self._give(_replaced(held, _END, end))
        self._give(_corner_row(held, letter, end, begin, back, ahead, size))
        return _replaced(row, _START, begin)


def _why_not(held: Row, row: Row, back: Point, ahead: Point) -> str:
    """Why no corner can be turned here; "" where it can."""
    if held[_KIND] != MotionKind.FEED or row[_KIND] != MotionKind.FEED:
        return "read between two straight feeds only"
    if back == (0.0, 0.0) or ahead == (0.0, 0.0) or held[_END][2] != row[_END][2] or held[_START][2] != held[_END][2]:
        return "read between two moves in the XY plane only"
    if abs(back[0] * ahead[1] - back[1] * ahead[0]) < STRAIGHT_ON:
        return "the two moves make no corner"
    return ""


def _way(row: Row, *, back: bool) -> Point:
    """Unit direction of a row in the plane, away from the corner; (0, 0) for one that does not move there."""
    start, end = row[_START], row[_END]
    dx, dy = (start[0] - end[0], start[1] - end[1]) if back else (end[0] - start[0], end[1] - start[1])
    length = math.hypot(dx, dy)
    return (dx / length, dy / length) if length else (0.0, 0.0)


def _cut_back(letter: str, size: float, back: Point, ahead: Point) -> float:
    """How far before and behind the corner the path leaves the two lines: the chamfer, or r / tan(half the angle)."""
    if letter == "C":
        return size
    angle = math.acos(max(-1.0, min(1.0, back[0] * ahead[0] + back[1] * ahead[1])))
    return size / math.tan(angle / 2.0)


def _corner_row(held: Row, letter: str, end: Point, begin: Point, back: Point, ahead: Point, size: float) -> Row:
    row = _replaced(_replaced(held, _START, end), _END, begin)
    if letter == "C":
        return row
    turns_left = back[0] * ahead[1] - back[1] * ahead[0] < 0.0
    side = 1.0 if turns_left else -1.0
    centre = (end[0] + side * size * back[1], end[1] - side * size * back[0])
    angle = math.acos(max(-1.0, min(1.0, back[0] * ahead[0] + back[1] * ahead[1])))
    changed = list(row)
    changed[_KIND] = MotionKind.ARC
    changed[_CENTRE] = (*centre, held[_END][2])
    changed[_TURN] = side * (180.0 - math.degrees(angle))
    return tuple(changed)


def _replaced(row: Row, field: int, place: Point) -> Row:
    return (*row[:field], (*place, row[field][2]), *row[field + 1 :])
