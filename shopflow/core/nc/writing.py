"""Floor copies: the program with its header and its stops, in the form that one machine wants."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shopflow.core.errors import NotPossible
from shopflow.core.nc.extent import clear_heights
from shopflow.core.nc.flow import FileMap, program_number
from shopflow.core.nc.machine_text import MachineText, check_number, comment_lines, file_name, plain_line
from shopflow.core.nc.modes import Modes
from shopflow.core.nc.patch import Patch, Patched, apply
from shopflow.core.nc.program import Program
from shopflow.core.nc.proof import prove_same
from shopflow.core.nc.run import read
from shopflow.core.nc.state import offset_name
from shopflow.core.types import Coolant

__all__ = [
    "MachineText",
    "PutStop",
    "comment_lines",
    "file_name",
    "floor_copy",
    "optional_stops_at_tools",
    "prove_same",
]


_CALL = re.compile(r"M\s*0*9[78](?!\d)|G\s*6[56](?!\d)|O\s*(\d+|<[^>]*>)\s*CALL", re.IGNORECASE)
_TOOL_CHANGE = re.compile(r"M\s*0*6(?!\d)", re.IGNORECASE)


@dataclass(frozen=True)
class PutStop:
    """A program stop to put in behind a line: what the person is to do, and M00 or (optional) M01."""

    after_line: int
    message: str
    kind: str = "M00"


def floor_copy(
    program: Program,
    *,
    header: Sequence[str] = (),
    stops: Sequence[PutStop] = (),
    rules: MachineText = MachineText(),  # noqa: B008  frozen
) -> bytes:
    """The bytes for the machine: header as comments, stops put in, everything else as it was.

    header: one line of text each; turned into plain upper-case comments. The result is read again, and NotPossible
    raised unless its motions are the same but for the stop blocks; also where a stop stands at a place that is not
    retracted, the number is out of range, or the copy is too large for the machine.
    """
    patched = apply(_patch(program, header, stops, rules), program.source, line_end=rules.line_end)
    if rules.max_bytes and len(patched.data) > rules.max_bytes:
        raise NotPossible(f"The copy has {len(patched.data):,} bytes; the machine takes {rules.max_bytes:,}.")
    check_copy(program, patched, stops_added=len(stops))
    return patched.data


def check_copy(program: Program, patched: Patched, **allowed: Any) -> Program:
    """The rewritten program, read again and proved to move as before; allowed: as `prove_same` has it."""
    after = read(patched.data, control=program.control, name=program.name, tools=program.tools_known)
    prove_same(program, after, origin=patched.origin, **allowed)
    return after


def _patch(program: Program, header: Sequence[str], stops: Sequence[PutStop], rules: MachineText) -> Patch:
    after: dict[int, list[str]] = {}
    for stop in stops:
        after.setdefault(stop.after_line, []).extend(stop_block(program, stop, rules.comment_length))
    place, opening, replaced = _opening(program, rules)
    if rules.own_comments_plain:
        _make_commentsplain_number(program, rules, replaced, after)
    comments = [text for line in header for text in comment_lines(line, rules.comment_length)]
    after[place] = [*opening, *comments, *after.get(place, [])]
    if rules.percent_signs and not _is_percent(program, len(program.source)):
        after.setdefault(len(program.source), []).append("%")
    return Patch(replaced=replaced, after=after)


def _make_commentsplain_number(
    program: Program, rules: MachineText, replaced: dict[int, str], after: dict[int, list[str]]
) -> None:
    """The comments of the program itself; what does not fit into a line of its own goes on in comments behind it."""
    for line in range(1, program.lines + 1):
        text = replaced.get(line, program.text(line))
        new, rest = plain_line(text, program, rules.comment_length)
        if new != text:
            replaced[line] = new
        if rest:
            after[line] = [*rest, *after.get(line, ())]


def _opening(program: Program, rules: MachineText) -> tuple[int, list[str], dict[int, str]]:
    """Where the header goes, what must stand before it, and the number line if it changes."""
    first = next((line for line in range(1, program.lines + 1) if program.text(line).strip()), 1)
    has_percent = _is_percent(program, first)
    opening = ["%"] if rules.percent_signs and not has_percent else []
    number_line = _number_line(program)
    wanted = check_number(program, rules)
    if number_line and not opening:
        replaced = {number_line: _renumbered(program, number_line, wanted)} if wanted else {}
        return number_line, [], replaced
    if number_line:
        raise NotPossible("The program has a number but no % before it; the machine wants one. Add it to the program.")
    return (first if has_percent else 0), opening + ([wanted] if wanted else []), {}


def _is_percent(program: Program, line: int) -> bool:
    return program.text(line).strip() == "%"


def _number_line(program: Program) -> int:
    """The line with the program's number, 0 without one."""
    if not program.number:
        return 0
    lines = range(1, program.lines + 1)
    return next(line for line in lines if program_number(program.text(line), program.control)[0])


def _renumbered(program: Program, line: int, wanted: str) -> str:
    text = program.text(line)
    return re.sub(r"[Oo:]\s*\d+", wanted, text, count=1)


def stop_block(program: Program, stop: PutStop, comment_length: int) -> list[str]:
    """The lines of one stop: coolant and spindle off, message, stop, modes and spindle and coolant again."""
    check_retracted(program, stop.after_line)
    modes = program.modes_at(stop.after_line)
    lines = []
    if modes.coolant:
        lines.append("M09")
    if modes.spindle:
        lines.append("M05")
    lines += comment_lines(stop.message, comment_length)
    lines.append(stop.kind)
    lines += modes_again(program, modes)
    if modes.spindle:
        lines.append(f"S{plain_number(modes.rpm)} {'M03' if modes.spindle > 0 else 'M04'}")
    return lines + coolant_again(program, modes.coolant)


def coolant_again(program: Program, coolant: Coolant) -> list[str]:
    """The codes that put on again what M09 switched off; those of the builder as the profile has them."""
    codes = [("M07", int(Coolant.MIST)), ("M08", int(Coolant.FLOOD)), *program.control.coolant_codes]
    again: list[str] = []
    missing = int(coolant)
    for code, bits in codes:
        if bits & missing and not bits & ~int(coolant):
            again.append(code)
            missing &= ~bits
    return again


def modes_again(program: Program, modes: Modes) -> list[str]:
    """What a person may have changed by hand during the stop; what the program never states is not stated for it."""
    words = {
        "plane": f"G{modes.plane}",
        "units": "G21" if modes.unit == "mm" else "G20",
        "distance": "G90" if modes.absolute else "G91",
        "feed mode": f"G{modes.feed_mode}",
        "offset": modes.work_offset,
    }
    stated = [word for group, word in words.items() if group in program.stated]
    return [" ".join(stated)] if stated else []


def plain_number(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def check_retracted(program: Program, line: int) -> None:
    """Raise NotPossible unless the tool is home or above everything cut once this line has run, and no cycle is on."""
    if not 1 <= line <= program.lines or not program.lines_run[line - 1]:
        raise NotPossible(f"Line {line} is not run, so no stop can stand behind it.")
    if _CALL.search(program.text(line)):
        raise NotPossible(f"Line {line} calls a subprogram; a stop may stand behind another line.")
    row = _last_row(program, line)
    modes = program.modes_at(line)
    if modes.compensation != "G40":
        raise NotPossible(f"Cutter compensation is on in line {line}; a stop cannot stand there.")
    if modes.motion in ("G73", "G74", "G76") or modes.motion.startswith("G8") and modes.motion != "G80":
        raise NotPossible(f"The cycle {modes.motion} is in force in line {line}; a stop cannot stand there.")
    height = _height_after(program, row, modes)
    if not height > 0.0 and not _tool_changes_after(program, line):
        raise NotPossible(f"After line {line} the tool is not retracted; a stop stands only where it is, or at M6.")


def can_stop(program: Program, line: int) -> bool:
    """Whether a stop may stand behind a line (`check_retracted`)."""
    try:
        check_retracted(program, line)
    except NotPossible:
        return False
    return True


def _last_row(program: Program, line: int) -> int:
    """The last motion that has run once a line has, -1 before the first; NotPossible where the line runs repeatedly."""
    first, last = FileMap(program.source, program.control, own=program.lines).span(line - 1)
    lines = program.motions.line
    inside = np.flatnonzero((lines > first) & (lines <= last))
    if (np.diff(lines[inside]) < 0).any():
        raise NotPossible("The lines around it run more than once (a subprogram or a loop); put the stop in by hand.")
    behind = inside[lines[inside] > line]
    if len(behind):
        return int(behind[0]) - 1
    return int(inside[-1]) if len(inside) else -1


def _height_after(program: Program, row: int, modes: Modes) -> float:
    """How far the tool stands above everything cut; NaN where an offset has changed since it last moved."""
    if row < 0:
        return math.inf
    moved_under = (program.motions.length_offset[row], offset_name(int(program.motions.work_offset[row]) or 1))
    at_home = program.motions.work_offset[row] == 0
    if not at_home and moved_under != (modes.length_offset, modes.work_offset):
        return math.nan
    return float(clear_heights(program.motions, program.end_known)[row])


def _tool_changes_after(program: Program, line: int) -> bool:
    """Whether the spindle has just changed its tool: the line is an M6 and nothing has moved since."""
    if line < 2:
        return False
    changed = program.modes_at(line).tool != program.modes_at(line - 1).tool
    return changed and program.control.tool_change_retracts


def optional_stops_at_tools(program: Program) -> tuple[PutStop, ...]:
    """For a prove-out copy: an optional stop behind each line that changes the tool."""
    stops = []
    for line in range(2, program.lines + 1):
        if not _TOOL_CHANGE.search(program.text(line)):
            continue
        before, after = program.modes_at(line - 1).tool, program.modes_at(line).tool
        if before and after != before:
            stops.append(PutStop(line - 1, f"PROVE OUT T{after}", "M01"))
    return tuple(stops)
