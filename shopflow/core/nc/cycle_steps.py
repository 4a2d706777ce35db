"""What each canned cycle does once the tool stands at R above a hole [NISTIR 6556, 3.5.16]; and some beyond it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.reading import Reading

MOST_PECKS = 10_000
"""A hole with more pecks than this has a Q that is a slip."""


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole: where, and between which heights along the plane's normal. bottom, clear, r: mm."""

    reading: Reading
    first: int
    second: int
    normal: int
    place: tuple[float, float]
    r: float
    bottom: float
    clear: float
    words: dict[str, float]
    number: int

    def to_height(self, height: float, *, feeding: bool) -> None:
        end = list(self.reading.state.position)
        end[self.normal] = height
        self._go(end, feeding=feeding, axes=(self.normal,))

    def across(self, place: tuple[float, float], *, feeding: bool = False) -> None:
        end = list(self.reading.state.position)
        end[self.first], end[self.second] = place
        self._go(end, feeding=feeding, axes=(self.first, self.second))

    def _go(self, end: list[float], *, feeding: bool, axes: tuple[int, ...]) -> None:
        commanded = [axis in axes for axis in range(3)]
        move = self.reading.feed if feeding else self.reading.rapid
        move(end, commanded=commanded, cycle=self.number)

    def dwell(self) -> None:
        if self.words.get("P", 0.0) > 0.0:
            self.reading.dwell(self.words["P"], cycle=self.number)

    def turn_spindle(self, direction: int) -> None:
        self.reading.state.spindle = direction

    def need(self, letter: str) -> float:
        if letter not in self.words:
            raise Fault(f"G{self.number} needs a {letter} word")
        return self.words[letter]

    def need_turning(self) -> int:
        if self.reading.state.spindle == 0:
            raise Fault(f"G{self.number} with the spindle stopped")
        return self.reading.state.spindle


def _drill(hole: Hole) -> None:
    hole.to_height(hole.bottom, feeding=True)
    hole.to_height(hole.clear, feeding=False)


def _drill_with_dwell(hole: Hole) -> None:
    hole.to_height(hole.bottom, feeding=True)
    hole.dwell()
    hole.to_height(hole.clear, feeding=False)


def _peck(hole: Hole) -> None:
    """Out of the hole after each peck, then rapidly down to a little above the last depth."""
    control = hole.reading.control
    between = hole.r if control.peck_returns_to_r else hole.clear
    for depth in _peck_depths(hole):
        hole.to_height(depth, feeding=True)
        if depth > hole.bottom:
            hole.to_height(between, feeding=False)
            hole.to_height(min(depth + control.peck_retract_mm, between), feeding=False)
    hole.to_height(hole.clear, feeding=False)


def _break_chips(hole: Hole) -> None:
    """G73: a short way up after each peck."""
    for depth in _peck_depths(hole):
        hole.to_height(depth, feeding=True)
        if depth > hole.bottom:
            hole.to_height(depth + hole.reading.control.chip_break_retract_mm, feeding=False)
    hole.to_height(hole.clear, feeding=False)


def _peck_depths(hole: Hole) -> list[float]:
    step = hole.need("Q")
    if step <= 0.0:
        raise Fault("Q must be more than zero")
    count = math.ceil((hole.r - hole.bottom) / step - 1e-9)
    if count > MOST_PECKS:
        raise Fault(f"Q makes {count} pecks of one hole; at most {MOST_PECKS} are read")
    depths = [hole.r - step * peck for peck in range(1, count)]
    return [*depths, hole.bottom]


def _tap(hole: Hole) -> None:
    """Down and up in step with the spindle, which turns back on the way up."""
    state, control = hole.reading.state, hole.reading.control
    before = state.spindle
    if control.tap_needs_clockwise and before != 1:
        raise Fault("G84 needs the spindle to turn clockwise")
    turning = before or int(state.rigid_tapping)
    hole.turn_spindle(turning)
    hole.to_height(hole.bottom, feeding=True)
    hole.turn_spindle(-turning)
    hole.to_height(hole.r if control.tap_feeds_to_r else hole.clear, feeding=True)
    hole.turn_spindle(before)
    if state.position[hole.normal] < hole.clear:
        hole.to_height(hole.clear, feeding=False)


def _tap_left(hole: Hole) -> None:
    """G74: a left-hand thread, down counter-clockwise and up clockwise (common practice, no source)."""
    before = hole.reading.state.spindle
    turning = before or -int(hole.reading.state.rigid_tapping)
    hole.turn_spindle(turning)
    hole.to_height(hole.bottom, feeding=True)
    hole.turn_spindle(-turning)
    hole.to_height(hole.r, feeding=True)
    hole.turn_spindle(before)
    if hole.reading.state.position[hole.normal] < hole.clear:
        hole.to_height(hole.clear, feeding=False)


def _tap_rigid(hole: Hole) -> None:
    """G84.2, G84.3: a right-hand, a left-hand thread; the control turns the spindle (common practice, no source)."""
    hole.reading.state.rigid_tapping = True
    (_tap_left if hole.reading.state.motion == 843 else _tap)(hole)


def _bore_and_step_aside(hole: Hole) -> None:
    """G76: stop at the bottom, a step of Q away from the wall, out. Which way is the control's affair: read as +X."""
    turning = hole.need_turning()
    aside = (hole.place[0] + hole.need("Q"), hole.place[1])
    hole.to_height(hole.bottom, feeding=True)
    hole.dwell()
    hole.turn_spindle(0)
    hole.across(aside)
    hole.to_height(hole.clear, feeding=False)
    hole.across(hole.place)
    hole.turn_spindle(turning)
    hole.reading.assume("step-aside", "G76 steps away from the wall in a direction that the control knows: read as +X")


def _bore(hole: Hole) -> None:
    hole.to_height(hole.bottom, feeding=True)
    hole.to_height(hole.clear, feeding=True)


def _bore_stop_out(hole: Hole) -> None:
    turning = hole.need_turning()
    hole.to_height(hole.bottom, feeding=True)
    hole.dwell()
    hole.turn_spindle(0)
    hole.to_height(hole.clear, feeding=False)
    hole.turn_spindle(turning)


def _back_bore(hole: Hole) -> None:
    turning = hole.need_turning()
    letters = ("I", "J", "K")
    aside = (hole.place[0] + hole.need(letters[hole.first]), hole.place[1] + hole.need(letters[hole.second]))
    top = hole.need(letters[hole.normal])
    if not hole.reading.state.absolute:
        top += hole.bottom
    hole.across(aside)
    hole.turn_spindle(0)
    hole.to_height(hole.bottom, feeding=False)
    hole.across(hole.place)
    hole.turn_spindle(turning)
    hole.to_height(top, feeding=True)
    hole.to_height(hole.bottom, feeding=True)
    hole.turn_spindle(0)
    hole.across(aside)
    hole.to_height(hole.clear, feeding=False)
    hole.across(hole.place)
    hole.turn_spindle(turning)


def _bore_by_hand(hole: Hole) -> None:
    turning = hole.need_turning()
    hole.to_height(hole.bottom, feeding=True)
    hole.dwell()
    hole.turn_spindle(0)
    hole.reading.stop("G88", "retract by hand")
    hole.reading.assume("retract-by-hand", "G88 waits until a person has taken the tool up: read as a rapid up")
    hole.to_height(hole.clear, feeding=False)
    hole.turn_spindle(turning)


def _bore_dwell_out(hole: Hole) -> None:
    hole.to_height(hole.bottom, feeding=True)
    hole.dwell()
    hole.to_height(hole.clear, feeding=True)


CYCLES: dict[int, tuple[Callable[[Hole], None], str]] = {
    730: (_break_chips, "Q"),
    740: (_tap_left, ""),
    760: (_bore_and_step_aside, "QP"),
    842: (_tap_rigid, ""),
    843: (_tap_rigid, ""),
    810: (_drill, ""),
    820: (_drill_with_dwell, "P"),
    830: (_peck, "Q"),
    840: (_tap, ""),
    850: (_bore, ""),
    860: (_bore_stop_out, "P"),
    870: (_back_bore, "IJK"),
    880: (_bore_by_hand, "P"),
    890: (_bore_dwell_out, "P"),
}
"""What a cycle does once the tool stands at R above the hole, and the words of its own."""
