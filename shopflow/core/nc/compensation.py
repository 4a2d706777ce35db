"""Cutter compensation applied to the path (G41, G42): entry, offset contour with its corners, exit.

[NISTIR 6556, App. B]. Rows come in as programmed and go out as the tool runs. Each is held until the next one is known,
since the corner between them decides where it ends. Corners away from the material get an arc; at corners into the
material the offset curves meet, and a path that would have to run backwards there is an overcut. Only neighbours are
compared: overcuts between moves farther apart are for the simulation to find.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shopflow.core.nc.arcs import turn_about
from shopflow.core.nc.offset_curves import Circle, Line, Point, meet
from shopflow.core.nc.state import NAMES
from shopflow.core.types import MotionKind

Row = tuple[Any, ...]

_KIND, _LINE, _START, _END, _CENTRE, _TURN = (
    NAMES.index(name) for name in ("kind", "line", "start", "end", "centre", "turn_deg")
)
SAME_PLACE_MM = 1e-6
BACKWARDS_MM = 1e-6
TANGENT = 1e-9
WRAPPED_DEG = 1e-3
"""A compensated arc turns no farther than the programmed one; more means that it would run the other way round."""


@dataclass(frozen=True, slots=True)
class _Element:
    """One programmed motion across the plane. side: 1 with the tool on its left, -1 on its right."""

    row: Row
    side: int
    radius: float

    @property
    def start(self) -> Point:
        return self.row[_START][0], self.row[_START][1]

    @property
    def end(self) -> Point:
        return self.row[_END][0], self.row[_END][1]

    @property
    def centre(self) -> Point:
        return self.row[_CENTRE][0], self.row[_CENTRE][1]

    @property
    def is_arc(self) -> bool:
        return bool(self.row[_KIND] == MotionKind.ARC)

    @property
    def turn(self) -> float:
        return float(self.row[_TURN])

    def direction(self, point: Point) -> Point:
        """Unit direction of the motion at its start or end."""
        if not self.is_arc:
            return _unit(self.start, self.end)
        outward = _unit(self.centre, point)
        return (-outward[1], outward[0]) if self.turn > 0.0 else (outward[1], -outward[0])

    def beside(self, point: Point) -> Point:
        """Where the tool stands while it touches the path at its start or end."""
        along = self.direction(point)
        reach = self.side * self.radius
        return point[0] - reach * along[1], point[1] + reach * along[0]

    def curve(self) -> Line | Circle:
        """What the tool's centre follows."""
        if not self.is_arc:
            return Line(self.beside(self.start), self.direction(self.start))
        return Circle(self.centre, self.offset_radius())

    def offset_radius(self) -> float:
        inward = (self.turn > 0.0) == (self.side > 0)
        return math.dist(self.centre, self.start) + (-self.radius if inward else self.radius)


class Compensator:
    """Turns programmed rows into the tool's own. `give` takes the rows that are ready, `refuse` a line and a reason."""

    def __init__(
        self,
        radius_mm: float,
        code: int,
        *,
        inside_corners: bool,
        give: Callable[[Row], None],
        refuse: Callable[[int, str], None],
    ) -> None:
        flipped = radius_mm < 0.0
        self._side = (1 if code == 41 else -1) * (-1 if flipped else 1)
        self._radius = abs(radius_mm)
        self._inside_corners = inside_corners
        self._give, self._refuse = give, refuse
        self._held: _Element | None = None
        self._behind: list[Row] = []
        self._is_entry = True
        self._begin: Point | None = None
        self.is_leaving = False

    def push(self, row: Row) -> bool:
        """Take the next programmed row; whether compensation goes on after it."""
        across = math.dist(row[_START][:2], row[_END][:2]) > SAME_PLACE_MM or row[_KIND] == MotionKind.ARC
        if self.is_leaving:
            self._give(_moved(row, self._begin, None if across else self._begin))
            return not across
        if not across:
            self._behind.append(row)
            if self._held is None:
                self._release()
            return True
        self._take(_Element(row, self._side, self._radius))
        return True

    @property
    def held(self) -> int:
        """How many rows it has taken and not given out yet."""
        return len(self._behind) + (self._held is not None)

    def leave(self) -> Point | None:
        """G40: the last element ends beside its own end. Where the tool then stands, None if it never moved."""
        self.is_leaving = True
        if self._held is not None:
            self._finish(self._held.end if self._is_entry else self._held.beside(self._held.end))
        return self._begin

    def _take(self, new: _Element) -> None:
        if new.is_arc and new.offset_radius() <= 0.0:
            self._refuse(new.row[_LINE], f"the tool's radius of {self._radius:.4f} mm does not fit into the arc")
        if self._held is None:
            if math.dist(new.start, new.end) <= self._radius:
                self._refuse(
                    new.row[_LINE], "the move on which compensation begins is no longer than the tool's radius"
                )
            if new.is_arc:
                self._refuse(new.row[_LINE], "compensation begins on an arc")
        else:
            self._join(self._held, new)
        self._held = new

    def _join(self, held: _Element, new: _Element) -> None:
        after = new.beside(new.start)
        if self._is_entry:
            self._finish(after)
            self._is_entry = False
            return
        before = held.beside(held.end)
        coming, going = held.direction(held.end), new.direction(new.start)
        turning = (coming[0] * going[1] - coming[1] * going[0]) * self._side
        straight_on = coming[0] * going[0] + coming[1] * going[1] > 0.0
        if self._radius == 0.0 or (abs(turning) < TANGENT and straight_on):
            self._finish(before)
        elif turning < 0.0 or abs(turning) < TANGENT:
            self._finish(before)
            self._give(self._corner_arc(new, before, after))
            self._begin = after
        else:
            self._meet_inside(held, new, before, after)

    def _corner_arc(self, new: _Element, before: Point, after: Point) -> Row:
        """Round the programmed corner, turning away from the side that the tool is on."""
        row = list(new.row)
        level = new.row[_START][2]
        row[_KIND] = MotionKind.ARC
        row[_START], row[_END] = (*before, level), (*after, level)
        row[_CENTRE] = (*new.start, level)
        row[_TURN] = turn_about(new.start, before, after, clockwise=self._side > 0)
        return tuple(row)

    def _meet_inside(self, held: _Element, new: _Element, before: Point, after: Point) -> None:
        if not self._inside_corners:
            self._refuse(new.row[_LINE], "a concave corner with cutter compensation on")
        points = meet(held.curve(), new.curve())
        if not points:
            self._refuse(new.row[_LINE], "overcut: the tool does not fit into the corner before this line")
            self._finish(before)
            self._begin = after
            return
        self._finish(min(points, key=lambda point: math.dist(point, new.start)))

    def _finish(self, end: Point) -> None:
        """Give the held element out, from where the tool stands to its compensated end, and what waited behind it."""
        held = self._held
        assert held is not None
        row = _moved(held.row, self._begin, end)
        if held.is_arc and not self._is_entry:
            clockwise = held.turn < 0.0
            turn = turn_about(held.centre, (row[_START][0], row[_START][1]), end, clockwise=clockwise)
            if abs(turn) > abs(held.turn) + WRAPPED_DEG:
                self._refuse(held.row[_LINE], "overcut: the compensated arc would run backwards")
            row = (*row[:_TURN], turn, *row[_TURN + 1 :])
        elif not self._is_entry and self._runs_backwards(held, row):
            self._refuse(held.row[_LINE], "overcut: the compensated move would run backwards")
        self._held = None
        self._give(row)
        self._begin = end
        self._release()

    @staticmethod
    def _runs_backwards(held: _Element, row: Row) -> bool:
        along = held.direction(held.start)
        way = [row[_END][axis] - row[_START][axis] for axis in (0, 1)]
        return bool(way[0] * along[0] + way[1] * along[1] < -BACKWARDS_MM)

    def _release(self) -> None:
        for row in self._behind:
            self._give(_moved(row, self._begin, self._begin))
        self._behind = []


def _moved(row: Row, start: Point | None, end: Point | None) -> Row:
    """The row with other places in the plane; None leaves one as it is."""
    changed = list(row)
    if start is not None:
        changed[_START] = (*start, row[_START][2])
    if end is not None:
        changed[_END] = (*end, row[_END][2])
    return tuple(changed)


def _unit(start: Point, end: Point) -> Point:
    length = math.dist(start, end)
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length
