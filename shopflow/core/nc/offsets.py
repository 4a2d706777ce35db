"""Work offsets, G92, length offsets [NISTIR 6556, 3.5.5, 3.5.11, 3.5.13, 3.5.18]."""

from __future__ import annotations

import math

from shopflow.core.nc.blocks import Word
from shopflow.core.nc.codes import Codes
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.reading import AXES, Reading
from shopflow.core.nc.state import FIRST_EXTENDED, MOST_EXTENDED, NAN3


def tool_number(word: Word) -> int:
    """The whole number of a T, H or D word."""
    value = whole(word.value, word.letter)
    if not 0 <= value <= 99_999_999:
        raise Fault(f"{word.text}: {word.letter} must lie between 0 and 99999999")
    return value


def set_length_offset(reading: Reading, codes: Codes) -> None:
    code = codes.g.get("length")
    if code is None:
        _change_by_bare_h(reading, codes)
        return
    if code == 431 and "H" not in codes.values:
        _take_length_from_program(reading, codes)
        return
    word = codes.take("H") if code in (430, 431) else None
    if code == 430 and word is None:
        raise Fault("G43 without H: which length offset is meant is not stated")
    number = 0 if word is None else tool_number(word)
    if number != reading.state.length_offset:
        reading.state.known[2] = False
    reading.state.length_offset = number


def _take_length_from_program(reading: Reading, codes: Codes) -> None:
    """G43.1 Z: the length itself stands in the program; it counts as the offset of the tool in the spindle."""
    state = reading.state
    word = codes.take("Z")
    if word is None or codes.has_axes():
        raise Fault("G43.1 is read with H, or with Z alone: the length of the tool")
    length = reading.length(word)
    reading.length_offsets_set.add(state.tool)
    state.length_offset, state.known[2] = state.tool, False
    reading.assume(
        "length-in-program",
        f"G43.1: the program itself says that T{state.tool} is {length:g} mm long; nobody measured it",
    )


def _change_by_bare_h(reading: Reading, codes: Codes) -> None:
    state = reading.state
    if not reading.control.bare_h_changes_offset or not state.length_offset or "H" not in codes.values:
        return
    word = codes.take("H")
    assert word is not None
    number = tool_number(word)
    if number != state.length_offset:
        state.known[2] = False
    state.length_offset = number


def select_work_offset(reading: Reading, codes: Codes) -> None:
    code = codes.g.get("work offset")
    if code is None:
        return
    reading.state.stated.add("offset")
    number = _extended_number(codes) if code == 541 else _number_of(code)
    if number != reading.state.work_offset:
        _shift_origin(reading, reading.state.work_offset, number)
    reading.state.work_offset = number


def _number_of(code: int) -> int:
    """G54 is 1 … G59 is 6, G59.1 is 7 … G59.3 is 9 [3.5.13]; codes are times ten."""
    return (code - 530) // 10 if code <= 590 else code - 590 + 6


def _extended_number(codes: Codes) -> int:
    """G54.1 P1 and on (common practice, no source)."""
    word = codes.take("P")
    number = whole(word.value, "P") if word else 0
    if not 1 <= number <= MOST_EXTENDED:
        raise Fault(f"G54.1 needs P1 to P{MOST_EXTENDED}")
    return FIRST_EXTENDED + number


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


def set_local_shift(reading: Reading, codes: Codes) -> None:
    """G52: the coordinates of all offsets shift by this; zero takes it back (common practice, no source)."""
    if not codes.has_axes():
        raise Fault("G52 has no axis word")
    for axis, letter in enumerate(AXES):
        if word := codes.take(letter):
            reading.state.local_shift[axis] = reading.length(word)


def set_by_program(reading: Reading, codes: Codes) -> None:
    """G10: L2 sets a work offset [3.5.5]; L20 and the tool tables L1, L10 to L13 by profile."""
    word = codes.take("L")
    kind = whole(word.value, "L") if word else -1
    if kind == 2:
        if not reading.state.absolute and reading.control.program_numbers:
            raise Fault("G10 L2 under G91; whether it sets the offset or adds to it depends on the control")
        _set_origin(reading, codes, here=False)
    elif kind == 20 and "G10 L20" in reading.control.extra_codes:
        _set_origin(reading, codes, here=True)
    elif kind in (1, 10, 11, 12, 13) and "G10 L10" in reading.control.extra_codes:
        _set_tool_table(reading, codes)
    else:
        raise Fault("G10 is read with L2 only" if kind < 0 else f"G10 L{kind} is not read by this control")


def _set_tool_table(reading: Reading, codes: Codes) -> None:
    """A tool's offset is set: by how much is for the control to know, so the height is not known any more."""
    which = codes.take("P")
    if which is None or (codes.take("R") is None and codes.take("Z") is None):
        raise Fault("G10 for a tool needs P and R")
    number = tool_number(which)
    reading.length_offsets_set.add(number)
    if number == reading.state.length_offset:
        reading.state.known[2] = False


def _set_origin(reading: Reading, codes: Codes, *, here: bool) -> None:
    """The origin of a work offset in machine coordinates; here: so that the present place has these numbers."""
    state = reading.state
    which = codes.take("P")
    number = whole(which.value, "P") if which else -1
    if number == 0 and "G10 L20" in reading.control.extra_codes:
        number = state.work_offset
    if not 1 <= number <= FIRST_EXTENDED:
        raise Fault("G10 L2 needs P1 to P9, the work offset to set")
    old = list(state.origins.get(number, NAN3))
    new = list(old)
    in_force = state.origins.get(state.work_offset, NAN3)
    for axis, letter in enumerate(AXES):
        if word := codes.take(letter):
            value = reading.length(word)
            new[axis] = state.position[axis] + in_force[axis] - value if here else value
            if here and number == state.work_offset:
                state.position[axis], state.known[axis] = value, True
    state.origins[number] = new
    if number == state.work_offset and not here:
        _renumber_place(reading, old, new)


def _renumber_place(reading: Reading, old: list[float], new: list[float]) -> None:
    """The tool stays, its numbers change, if the old origin is known."""
    state = reading.state
    for axis in range(3):
        if new[axis] != old[axis] and not math.isnan(new[axis]):
            state.known[axis] = state.known[axis] and not math.isnan(old[axis])
            state.position[axis] += old[axis] - new[axis] if state.known[axis] else 0.0
