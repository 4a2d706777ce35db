"""What a block does, in the report's order of execution [NISTIR 6556, 3.8, Table 8]."""

from __future__ import annotations

import math
from collections.abc import Callable

from shopflow.core.nc import coordinates, cutter, cycles, moves, offsets
from shopflow.core.nc.blocks import Word
from shopflow.core.nc.codes import AXIS_USERS, Codes, name
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.reading import Reading
from shopflow.core.nc.state import MM_PER_IN, Cycle
from shopflow.core.types import Coolant, DecimalRule

Step = Callable[[Reading, Codes], None]


def _set_feed_mode(reading: Reading, codes: Codes) -> None:
    mode = codes.g.get("feed mode")
    if mode is not None:
        reading.state.stated.add("feed mode")
    if mode is not None and mode // 10 != reading.state.feed_mode:
        reading.state.feed_mode = mode // 10
        reading.state.feed_word = math.nan


def _set_feed(reading: Reading, codes: Codes) -> None:
    """F counts in the unit that is in force after the block, as people mean it when both stand in one line."""
    word = codes.take("F")
    state = reading.state
    if state.feed_mode == 93:
        state.feed_word = math.nan  # inverse time holds for its own block only [3.5.19]
    if word is None:
        return
    if word.value < 0.0:
        raise Fault(f"{word.text}: a feed must not be negative")
    unit = {200: MM_PER_IN, 210: 1.0}.get(codes.g.get("units", 0), state.unit_mm)
    implied = reading.control.decimal_rule is DecimalRule.INCREMENT and not word.pointed
    if implied and state.feed_mode == 95 and word.value:
        raise Fault(f"{word.text} a revolution without a decimal point; what it counts depends on the control")
    if state.feed_mode == 94:
        state.feed_mm_min = word.value * unit
    else:
        state.feed_word = word.value * (unit if state.feed_mode == 95 else 1.0)


def _set_speed(reading: Reading, codes: Codes) -> None:
    word = codes.take("S")
    if word is not None:
        if word.value < 0.0:
            raise Fault(f"{word.text}: a spindle speed must not be negative")
        reading.state.rpm = word.value


def _select_tool(reading: Reading, codes: Codes) -> None:
    word = codes.take("T")
    if word is not None:
        reading.state.tool_waiting = offsets.tool_number(word)


def _change_tool(reading: Reading, codes: Codes) -> None:
    """M6: the spindle stops, axes and coolant stay as they are [3.6.3]; the new tool's length is another one."""
    if "tool change" not in codes.m:
        return
    state = reading.state
    state.spindle = 0
    state.tool = state.tool_waiting
    state.known[2] = False
    state.tool_change_up = reading.control.tool_change_retracts
    if state.tool and state.tool not in reading.tools:
        reading.tools.append(state.tool)


def _turn_spindle(reading: Reading, codes: Codes) -> None:
    code = codes.m.get("spindle")
    if code is not None and not (code == 5 and reading.control.off_codes_after_move):
        reading.state.spindle = {3: 1, 4: -1, 5: 0}[code]


def _switch_coolant(reading: Reading, codes: Codes) -> None:
    for code in codes.coolant:
        if code != 9:
            reading.state.coolant |= Coolant.MIST if code == 7 else Coolant.FLOOD
        elif not reading.control.off_codes_after_move:
            reading.state.coolant = Coolant.OFF
    for bits in codes.switched:
        reading.state.coolant = reading.state.coolant | Coolant(bits) if bits else Coolant.OFF


def _switch_off_late(reading: Reading, codes: Codes) -> None:
    """On controls where M5 and M9 wait for the move of their block."""
    if reading.control.off_codes_after_move:
        if codes.m.get("spindle") == 5:
            reading.state.spindle = 0
        if 9 in codes.coolant:
            reading.state.coolant = Coolant.OFF


def _tapping(reading: Reading, codes: Codes) -> None:
    """M29: the next taps are rigid; the control turns the spindle itself (common practice, no source)."""
    if "tapping" in codes.m:
        reading.state.rigid_tapping = True


def _dwell(reading: Reading, codes: Codes) -> None:
    if codes.g.get("once") != 40:
        return
    given = [word for letter in reading.control.dwell_letters if (word := codes.take(letter))]
    if len(given) != 1:
        raise Fault(f"G4 needs one of {', '.join(reading.control.dwell_letters)}")
    word = given[0]
    counts = word.letter == "P" or not word.pointed
    seconds = cycles.dwell_seconds(reading, word.value, pointed=word.pointed) if counts else word.value
    reading.dwell(seconds)


def _select_plane(reading: Reading, codes: Codes) -> None:
    if "plane" in codes.g:
        reading.state.plane = codes.g["plane"] // 10
        reading.state.stated.add("plane")


def _select_units(reading: Reading, codes: Codes) -> None:
    code = codes.g.get("units")
    if code is not None:
        reading.state.unit_mm = MM_PER_IN if code == 200 else 1.0
        reading.state.stated.add("units")
        reading.state.stated.add("inch" if code == 200 else "mm")


def _select_path(reading: Reading, codes: Codes) -> None:
    if "path" in codes.g:
        reading.state.path = codes.g["path"]


def _select_distance(reading: Reading, codes: Codes) -> None:
    if "arc centres" in codes.g:
        reading.state.absolute_centres = codes.g["arc centres"] == 901
    if "distance" in codes.g:
        reading.state.absolute = codes.g["distance"] == 900
        reading.state.stated.add("distance")


def _select_return(reading: Reading, codes: Codes) -> None:
    if "cycle return" in codes.g:
        reading.state.cycle_return = codes.g["cycle return"] // 10


def _act_once(reading: Reading, codes: Codes) -> None:
    """G10, G28, G30, G92: they take the axis words of their block."""
    code = codes.g.get("once")
    if code in (921, 922, 923):
        offsets.recall_shift(reading, code)
    if code not in AXIS_USERS:
        return
    given = codes.g.get("motion")
    if given not in (None, 800) and not reading.control.mode_word_alone:
        raise Fault(f"{name(code)} and {name(given)} both need the axis words of the block")
    if code == 100:
        offsets.set_by_program(reading, codes)
    elif code == 520:
        offsets.set_local_shift(reading, codes)
    elif code == 920:
        offsets.shift_axes(reading, codes)
    else:
        moves.home(reading, codes)


def _set_motion(reading: Reading, code: int) -> None:
    state = reading.state
    state.stated.add("motion")
    if code == 800:
        state.motion = state.straight if reading.control.cycle_cancel_restores else 800
        state.cycle, state.rigid_tapping = None, False
    elif code in cycles.CYCLES:
        level = state.cycle.level if state.cycle else state.position[_normal(reading)]
        kept = dict(state.cycle.words) if state.cycle and _keeps_words(reading, code) else {}
        state.motion, state.cycle = code, Cycle(code, kept, level)
    else:
        state.motion, state.cycle = code, None
        if code in (0, 10, 20, 30):
            state.straight = code


def _keeps_words(reading: Reading, code: int) -> bool:
    """The report keeps R and Z from block to block of the same cycle; common controls until G80."""
    return reading.control.cycle_cancel_restores or (
        reading.state.cycle is not None and reading.state.cycle.code == code
    )


def _normal(reading: Reading) -> int:
    return {17: 2, 18: 1, 19: 0}[reading.state.plane]


def _move(reading: Reading, codes: Codes) -> None:
    given = codes.g.get("motion")
    if given is not None:
        _set_motion(reading, given)
    once = codes.g.get("once")
    if once in AXIS_USERS:
        return
    if once == 530:
        moves.to_machine_place(reading, codes)
        return
    state = reading.state
    if state.cycle is not None:
        if given is not None and not codes.has_axes() and not reading.control.mode_word_alone:
            raise Fault(f"{name(given)} has no axis word")
        cycles.run_cycle(reading, codes)
    elif given is not None or codes.has_axes() or _is_bare_circle(reading, codes):
        _move_by_mode(reading, codes, given)


def _is_bare_circle(reading: Reading, codes: Codes) -> bool:
    return reading.state.motion in (20, 30) and not codes.values.keys().isdisjoint(moves.CENTRE_LETTERS)


def _move_by_mode(reading: Reading, codes: Codes, given: int | None) -> None:
    state = reading.state
    if not codes.has_axes() and not _is_bare_circle(reading, codes):
        if given != 800 and not reading.control.mode_word_alone:
            raise Fault(f"{name(given or state.motion)} has no axis word")
        return
    if "motion" not in state.stated:
        reading.assume("motion-not-stated", "no G0 or G1 before the first axis word: read as G1")
    if state.motion == 800:
        if given != 800 or codes.has_axes():
            raise Fault("axis words while G80 is in force, which moves nothing")
    elif state.motion == 382:
        raise Fault("G38.2 ends where the probe touches; its end is not known to a reader")
    elif state.motion in (20, 30):
        moves.arc(reading, codes, clockwise=state.motion == 20)
    else:
        moves.straight(reading, codes, feeding=state.motion == 10)


def _stop(reading: Reading, codes: Codes) -> None:
    code = codes.m.get("stop")
    kinds = list(codes.stops)
    if code in (0, 1, 60):
        kinds.append(name(code, "M"))
    for kind in kinds:
        reading.stop(kind, codes.comment or reading.last_comment)


ORDER: tuple[Step, ...] = (
    _set_feed_mode, _set_feed, _set_speed, _select_tool, _change_tool, _turn_spindle, _switch_coolant, _tapping,
    _dwell, _select_plane, _select_units, cutter.compensate, offsets.set_length_offset, offsets.select_work_offset,
    _select_path, _select_distance, coordinates.transform, _select_return, _act_once, _move, _switch_off_late, _stop,
)  # fmt: skip
"""Table 8; overrides (M48, M49) change nothing that is read, and program end is the reader's own affair."""


_WORDS_OF_HARMLESS = "PQRE"
"""Words that codes known as harmless bring along: G05 P10000, G5.1 Q1, G187 P2 E.01."""


_ROTARY = "ABC"


def run_codes(reading: Reading, codes: Codes) -> None:
    """Carry a block out; raises Fault at the step that cannot be read. Words that no step took are listed."""
    for step in ORDER:
        step(reading, codes)
    for word in codes.values.values():
        if codes.harmless and word.letter in _WORDS_OF_HARMLESS:
            continue
        reading.notes.refuse(reading.line, reading.text, f"{word.text} {_not_used(word)}")


def _not_used(word: Word) -> str:
    if word.letter in _ROTARY:
        return "turns a rotary axis, which this reader does not have: what the block moves besides is read without it"
    return "is used by nothing in this block"
