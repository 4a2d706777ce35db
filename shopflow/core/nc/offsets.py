"""Work offsets, G92, length offsets [NISTIR 6556, 3.5.5, 3.5.11, 3.5.13, 3.5.18]."""

from __future__ import annotations

import math

from shopflow.core.nc.blocks import Word
from shopflow.core.nc.codes import Codes
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.reading import AXES, Reading
from shopflow.core.nc.state import NAN3


def tool_number(word: Word) -> int:
    """The whole number of a T, H or D word."""
    value = whole(word.value, word.letter)
    if not 0 <= value <= 99_999_999:
        raise Fault(f"{word.text}: {word.letter} must lie between 0 and 99999999")
    return value


def set_length_offset(reading: Reading, codes: Codes) -> None:
    code = codes.g.get("length")
    if code is None:
        return
    word = codes.take("H") if code == 430 else None
    if code == 430 and word is None:
        raise Fault("G43 without H: which length offset is meant is not stated")
    number = 0 if word is None else tool_number(word)
    if number != reading.state.length_offset:
        reading.state.known[2] = False
    reading.state.length_offset = number


def select_work_offset(reading: Reading, codes: Codes) -> None:
    code = codes.g.get("work offset")
    if code is None:
        return
    reading.state.stated.add("offset")
    number = (code - 530) // 10 if code <= 590 else code - 590 + 6
    if number != reading.state.work_offset:
        _shift_origin(reading, reading.state.work_offset, number)
    reading.state.work_offset = number


def _shift_origin(reading: Reading, old: int, new: int) -> None:
    """The place stays; its numbers change by the difference of the origins, if both are known."""
    state = reading.state
    before, after = (state.origins.get(number, NAN3) for number in (old, new))
    for axis in range(3):
        change = before[axis] - after[axis]
        state.known[axis] = state.known[axis] and not math.isnan(change)
        if state.known[axis]:
            state.position[axis] += change


def recall_shift(reading: Reading, code: int) -> None:
    """G92.1 forgets, G92.2 only switches off, G92.3 switches on again [3.5.18]."""
    state = reading.state
    if code == 921:
        state.stored_shift = [0.0, 0.0, 0.0]
    state.shift = list(state.stored_shift) if code == 923 else [0.0, 0.0, 0.0]


def shift_axes(reading: Reading, codes: Codes) -> None:
    """G92: the present place gets these numbers."""
    state = reading.state
    if not codes.has_axes():
        raise Fault("G92 has no axis word")
    for axis, letter in enumerate(AXES):
        word = codes.take(letter)
        if word is None:
            continue
        value = reading.length(word)
        if not state.known[axis]:
            reading.assume("shift-assumed", "G92 at a place the program does not state: read as the zero of the offset")
            state.position[axis], state.known[axis] = value + state.shift[axis], True
        state.shift[axis] = state.position[axis] - value
    state.stored_shift = list(state.shift)


def set_origin(reading: Reading, codes: Codes) -> None:
    """G10 L2 P1 to P9: the origin of a work offset in machine coordinates [3.5.5]."""
    kind, which = codes.take("L"), codes.take("P")
    if kind is None or whole(kind.value, "L") != 2:
        raise Fault("G10 is read with L2 only")
    number = whole(which.value, "P") if which else -1
    if not 1 <= number <= 9:
        raise Fault("G10 L2 needs P1 to P9, the work offset to set")
    state = reading.state
    old = list(state.origins.get(number, NAN3))
    new = list(old)
    for axis, letter in enumerate(AXES):
        if word := codes.take(letter):
            new[axis] = reading.length(word)
    state.origins[number] = new
    if number != state.work_offset:
        return
    for axis in range(3):
        if new[axis] != old[axis] and not math.isnan(new[axis]):
            state.known[axis] = state.known[axis] and not math.isnan(old[axis])
            state.position[axis] += old[axis] - new[axis] if state.known[axis] else 0.0
