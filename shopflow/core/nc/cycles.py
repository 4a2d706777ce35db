"""Canned cycles: sticky words, repeats, places and heights [NISTIR 6556, 3.5.16.1, 3.5.20]."""

from __future__ import annotations

from shopflow.core.nc.codes import Codes, name
from shopflow.core.nc.cycle_steps import CYCLES, Hole
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.extent import PLANE_AXES
from shopflow.core.nc.reading import AXES, Reading
from shopflow.core.nc.state import Cycle
from shopflow.core.nc.transforms import to_place, to_point, turned

__all__ = ["CYCLES", "dwell_seconds", "run_cycle"]

_STEP_ASIDE = (760, 870)
"""Cycles that leave the wall to one side before they come up."""


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
    _check_transforms(reading, cycle)
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


def _check_transforms(reading: Reading, cycle: Cycle) -> None:
    """A rotation and a mirror move the holes and nothing else; what more they do depends on the control."""
    transforms, title = reading.state.transforms, name(cycle.code)
    if "scaling" in transforms:
        raise Fault(f"{title} under scaling (G51); whether its depths are scaled depends on the control")
    if transforms and cycle.code in _STEP_ASIDE:
        raise Fault(f"{title} under a rotation or mirror; which way it steps aside depends on the control")
    if transforms and reading.state.plane != 17:
        raise Fault(f"{title} under a rotation or mirror is read in the XY plane (G17) only")


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
        hole = Hole(reading, first, second, normal, place, r, bottom, clear, cycle.words, cycle.code // 10)
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
    if state.transforms:
        return _turned_places(reading, steps, repeats)
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


def _turned_places(reading: Reading, steps: list[float | None], repeats: int) -> list[tuple[float, float]]:
    """The same in the XY plane under G68 and G51.1: the words say program points, or ways between them."""
    state = reading.state
    given = [step is not None for step in steps]
    for axis in (0, 1):
        needed = given[1 - axis] and "rotation" in state.transforms
        if (given[axis] and not state.absolute) or (needed and not given[axis]):
            reading.assume_start_known(axis)
    if not state.absolute:
        dx, dy = turned(state.transforms, (steps[0] or 0.0, steps[1] or 0.0))
        x, y, _ = state.position
        return [(x + dx * count, y + dy * count) for count in range(1, repeats + 1)]
    point = to_point(state.transforms, list(state.position))
    for axis, step in enumerate(steps):
        if step is not None:
            point[axis] = step + state.shift[axis] + state.local_shift[axis]
    x, y, _ = to_place(state.transforms, point)
    return [(x, y)] * repeats
