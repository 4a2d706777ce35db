"""Canned cycles, expanded [NISTIR 6556, 3.5.16]; G73 beyond the report."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from shopflow.core.nc.codes import Codes, name
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.extent import PLANE_AXES
from shopflow.core.nc.reading import AXES, Reading
from shopflow.core.nc.state import Cycle

MOST_PECKS = 10_000
"""A hole with more pecks than this has a Q that is a slip."""


@dataclass(frozen=True, slots=True)
class _Hole:
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


def _drill(hole: _Hole) -> None:
    hole.to_height(hole.bottom, feeding=True)
    hole.to_height(hole.clear, feeding=False)


def _drill_with_dwell(hole: _Hole) -> None:
    hole.to_height(hole.bottom, feeding=True)
    hole.dwell()
    hole.to_height(hole.clear, feeding=False)


def _peck(hole: _Hole) -> None:
    """Out of the hole after each peck, then rapidly down to a little above the last depth."""
    control = hole.reading.control
    between = hole.r if control.peck_returns_to_r else hole.clear
    for depth in _peck_depths(hole):
        hole.to_height(depth, feeding=True)
        if depth > hole.bottom:
            hole.to_height(between, feeding=False)
            hole.to_height(min(depth + control.peck_retract_mm, between), feeding=False)
    hole.to_height(hole.clear, feeding=False)


def _break_chips(hole: _Hole) -> None:
    """G73: a short way up after each peck."""
    for depth in _peck_depths(hole):
        hole.to_height(depth, feeding=True)
        if depth > hole.bottom:
            hole.to_height(depth + hole.reading.control.chip_break_retract_mm, feeding=False)
    hole.to_height(hole.clear, feeding=False)


def _peck_depths(hole: _Hole) -> list[float]:
    step = hole.need("Q")
    if step <= 0.0:
        raise Fault("Q must be more than zero")
    count = math.ceil((hole.r - hole.bottom) / step - 1e-9)
    if count > MOST_PECKS:
        raise Fault(f"Q makes {count} pecks of one hole; at most {MOST_PECKS} are read")
    depths = [hole.r - step * peck for peck in range(1, count)]
    return [*depths, hole.bottom]


def _tap(hole: _Hole) -> None:
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


def _tap_left(hole: _Hole) -> None:
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


def _tap_rigid(hole: _Hole) -> None:
    """G84.2, G84.3: a right-hand, a left-hand thread; the control turns the spindle (common practice, no source)."""
    hole.reading.state.rigid_tapping = True
    (_tap_left if hole.reading.state.motion == 843 else _tap)(hole)


def _bore_and_step_aside(hole: _Hole) -> None:
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


def _bore(hole: _Hole) -> None:
    hole.to_height(hole.bottom, feeding=True)
    hole.to_height(hole.clear, feeding=True)


def _bore_stop_out(hole: _Hole) -> None:
    turning = hole.need_turning()
    hole.to_height(hole.bottom, feeding=True)
    hole.dwell()
    hole.turn_spindle(0)
    hole.to_height(hole.clear, feeding=False)
    hole.turn_spindle(turning)


def _back_bore(hole: _Hole) -> None:
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


def _bore_by_hand(hole: _Hole) -> None:
    turning = hole.need_turning()
    hole.to_height(hole.bottom, feeding=True)
    hole.dwell()
    hole.turn_spindle(0)
    hole.reading.stop("G88", "retract by hand")
    hole.to_height(hole.clear, feeding=False)
    hole.turn_spindle(turning)


def _bore_dwell_out(hole: _Hole) -> None:
    hole.to_height(hole.bottom, feeding=True)
    hole.dwell()
    hole.to_height(hole.clear, feeding=True)


CYCLES: dict[int, tuple[Callable[[_Hole], None], str]] = {
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


def run_cycle(reading: Reading, codes: Codes) -> None:
    """Drill what the block says with the cycle in force; R, Z and the cycle's own words stay until it ends."""
    cycle = reading.state.cycle
    assert cycle is not None
    first, second, normal = PLANE_AXES[reading.state.plane]
    repeats = _repeats(reading, codes)
    moved = codes.has_axes()
    _keep_words(reading, codes, cycle, normal)
    if not moved or repeats == 0:
        return
    _check(reading, cycle, normal)
    across = [codes.take(AXES[axis]) for axis in (first, second)]
    steps = [None if word is None else reading.length(word) for word in across]
    _drill_holes(reading, cycle, steps, repeats)


def _keep_words(reading: Reading, codes: Codes, cycle: Cycle, normal: int) -> None:
    for letter in AXES[normal] + "R" + "".join(set(CYCLES[cycle.code][1]) - {"P"}):
        word = codes.take(letter)
        if word is not None:
            cycle.words[letter] = reading.length(word)
    if "P" in CYCLES[cycle.code][1] and (word := codes.take("P")) is not None:
        cycle.words["P"] = dwell_seconds(reading, word.value, pointed=word.pointed)


def dwell_seconds(reading: Reading, value: float, *, pointed: bool) -> float:
    """P in seconds; on a control that counts milliseconds, a P without a point does."""
    if value < 0.0:
        raise Fault("a dwell must not be negative")
    if not reading.control.dwell_in_ms:
        return value
    if pointed:
        reading.assume("dwell-with-point", "a dwell with a decimal point: read as seconds")
        return value
    return value / 1000.0


def _repeats(reading: Reading, codes: Codes) -> int:
    own = CYCLES[reading.state.motion][1]
    given = [word for letter in reading.control.repeat_letters if letter not in own and (word := codes.take(letter))]
    if not given:
        return 1
    if len(given) > 1:
        raise Fault("a cycle repeated by two words at once")
    count = whole(given[0].value, f"{given[0].letter} of a cycle")
    least = 0 if "K" in reading.control.repeat_letters else 1
    if count < least:
        raise Fault(f"{given[0].text}: a cycle is repeated {least} times at the least")
    return count


def _check(reading: Reading, cycle: Cycle, normal: int) -> None:
    title = name(cycle.code)
    if reading.state.transforms:
        raise Fault(f"{title} under a rotation, scaling or mirror is not read")
    if reading.state.feed_mode == 93:
        raise Fault(f"{title} with inverse time feed (G93)")
    if reading.state.side:
        raise Fault(f"{title} with cutter compensation on")
    if AXES[normal] not in cycle.words:
        raise Fault(f"{title} has no {AXES[normal]} word: the bottom of the hole is not stated")
    if "R" not in cycle.words and not reading.control.cycle_without_r:
        raise Fault(f"{title} has no R word: the height to start feeding from is not stated")
    if not reading.state.known[normal]:
        reading.assume(
            "cycle-level", f"{title} begins at a height that is not stated; the way back up (G98) is read from there"
        )
    if "plane" not in reading.state.stated:
        reading.assume("plane-not-stated", "no G17, G18 or G19 before the first arc or cycle: read as G17")


def _drill_holes(reading: Reading, cycle: Cycle, steps: list[float | None], repeats: int) -> None:
    """Step 0, then for each repeat: across to the hole, down to R, and the cycle itself [3.5.16.1]."""
    state = reading.state
    first, second, normal = PLANE_AXES[state.plane]
    here = state.position[normal]
    r, bottom = _heights(reading, cycle, normal)
    if bottom > r:
        raise Fault(f"R lies below the bottom of the hole ({r:.3f} mm against {bottom:.3f} mm)")
    level = cycle.level if reading.control.level_of_series else here
    clear = max(level, r) if state.cycle_return == 98 else r
    act = CYCLES[cycle.code][0]
    places = _places(reading, (first, second), steps, repeats)
    for count, place in enumerate(places):
        hole = _Hole(reading, first, second, normal, place, r, bottom, clear, cycle.words, cycle.code // 10)
        if count == 0 and here < r:
            hole.to_height(r, feeding=False)
        hole.across(place)
        if state.position[normal] != r or not state.known[normal]:
            hole.to_height(r, feeding=False)
        act(hole)


def _heights(reading: Reading, cycle: Cycle, normal: int) -> tuple[float, float]:
    """R plane and bottom, mm. Under G91 R counts from the present level and the bottom from R [3.5.16]."""
    state = reading.state
    shift = state.shift[normal] + state.local_shift[normal]
    if state.absolute:
        r = cycle.words["R"] + shift if "R" in cycle.words else state.position[normal]
        return r, cycle.words[AXES[normal]] + shift
    base = cycle.level if reading.control.level_of_series else state.position[normal]
    r = base + cycle.words.get("R", 0.0)
    return r, r + cycle.words[AXES[normal]]


def _places(
    reading: Reading, axes: tuple[int, int], steps: list[float | None], repeats: int
) -> list[tuple[float, float]]:
    state = reading.state
    if repeats > reading.limits.max_motions // 4:
        raise Fault(f"{repeats} repeats of a cycle are more than are read")
    x, y = (state.position[axis] for axis in axes)
    if state.absolute:
        ends = [
            here if step is None else step + state.shift[axis] + state.local_shift[axis]
            for here, step, axis in zip((x, y), steps, axes, strict=True)
        ]
        return [(ends[0], ends[1])] * repeats
    for axis, step in zip(axes, steps, strict=True):
        if step is not None:
            reading.assume_start_known(axis)
    dx, dy = (step or 0.0 for step in steps)
    return [(x + dx * count, y + dy * count) for count in range(1, repeats + 1)]
