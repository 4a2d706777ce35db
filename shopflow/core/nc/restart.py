"""Safe places to restart from, one a tool, with everything that must be set there; and the parts between stops."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopflow.core.nc.blocks import read_block
from shopflow.core.nc.codes import sort_words
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.flow import FileMap
from shopflow.core.nc.modes import Modes
from shopflow.core.nc.program import Program
from shopflow.core.types import Coolant

_NEEDS: dict[str, frozenset[str]] = {
    "units": frozenset({"units"}),
    "plane": frozenset({"plane"}),
    "distance": frozenset({"distance"}),
    "feed mode": frozenset({"feed mode"}),
    "work offset": frozenset({"work offset"}),
    "length offset": frozenset({"length"}),
    "spindle": frozenset({"spindle", "S"}),
    "coolant": frozenset({"coolant"}),
}
"""What a restart needs, by what people call it, and the modal groups and letters that must be stated to set it."""


@dataclass(frozen=True)
class Restart:
    """A line from which one tool may be started again: its tool change.

    holds: name and value of everything that holds at the first cut, such as ("work offset", "G55"); "" for a spindle or
    coolant that is off. must_set: those of them that the lines from here on do not set themselves. first_cut: line of
    the tool's first feed, None without one. text: the line as written, which a control's search finds.
    """

    line: int
    tool: int
    must_set: tuple[tuple[str, str], ...]
    first_cut: int | None
    holds: tuple[tuple[str, str], ...] = ()
    text: str = ""


@dataclass(frozen=True)
class Part:
    """Lines first to last, between two stops, or a stop and an end. tools and work_offsets in order of use.

    rows: first motion and the one after the last, subprograms called from these lines included.
    """

    first: int
    last: int
    tools: tuple[int, ...]
    work_offsets: tuple[int, ...]
    rows: tuple[int, int]


def restarts(program: Program) -> tuple[Restart, ...]:
    """One for each tool change that runs, in order; none for a program whose lines run more than once."""
    lines = program.motions.line
    if len(lines) and (lines[:-1] > lines[1:]).any():
        return ()
    found = []
    for line in range(1, program.lines + 1):
        if "M" in program.text(line).upper() and _changes_tool(program, line):
            found.append(_restart(program, line))
    return tuple(found)


def _changes_tool(program: Program, line: int) -> bool:
    if not program.lines_run[line - 1]:
        return False
    return codes_of(program, line)[1]


def codes_of(program: Program, line: int) -> tuple[set[str], bool]:
    """The modal groups and letters that a line states, and whether it changes the tool."""
    try:
        codes = sort_words(read_block(program.text(line), program.control, lambda number: 0.0), program.control)
    except Fault:
        return set(), False
    stated = set(codes.g) | set(codes.m) | set(codes.values)
    if codes.coolant:
        stated.add("coolant")
    return stated, "tool change" in codes.m


def _restart(program: Program, line: int) -> Restart:
    motions = program.motions
    ahead = np.flatnonzero((motions.line >= line) & ~np.isnan(motions.feed_mm_min))
    first_cut = int(motions.line[ahead[0]]) if len(ahead) else None
    until = first_cut if first_cut is not None else line
    stated: set[str] = set()
    for each in range(line, until + 1):
        stated |= codes_of(program, each)[0]
    holds = _holding(program.modes_at(until))
    must_set = tuple((name, value) for name, value in holds.items() if value and not _NEEDS[name] <= stated)
    return Restart(
        line, program.modes_at(until).tool, must_set, first_cut, tuple(holds.items()), program.text(line).strip()
    )


def _holding(modes: Modes) -> dict[str, str]:
    """What is in force, by what people call it; the keys of _NEEDS."""
    direction = "M03" if modes.spindle > 0 else "M04"
    flow = "M08" if modes.coolant & Coolant.FLOOD else "M07"
    return {
        "units": "G21" if modes.unit == "mm" else "G20",
        "plane": f"G{modes.plane}",
        "distance": "G90" if modes.absolute else "G91",
        "feed mode": f"G{modes.feed_mode}",
        "work offset": modes.work_offset,
        "length offset": f"G43 H{modes.length_offset}" if modes.length_offset else "G49",
        "spindle": f"S{modes.rpm:g} {direction}" if modes.spindle else "",
        "coolant": flow if modes.coolant else "",
    }


def parts(program: Program, *, also_after: frozenset[int] = frozenset()) -> tuple[Part, ...]:
    """The program cut behind each M00 and program end, and behind the lines that a person names.

    Several work offsets between two stops stay one part: one run that makes several pieces.
    """
    last_line = program.program_ends or program.lines
    cuts = {line: _row_behind(program, line) for line in also_after}
    cuts |= {stop.line: stop.after_motion + 1 for stop in program.stops if stop.kind != "M01"}
    cuts = {line: row for line, row in cuts.items() if line < last_line} | {last_line: len(program.motions)}
    found, first, row = [], 1, 0
    for line in sorted(cuts):
        found.append(_part(program, first, line, (row, max(row, cuts[line]))))
        first, row = line + 1, max(row, cuts[line])
    return tuple(found)


def _row_behind(program: Program, line: int) -> int:
    """The first motion after a line has run; what a subprogram moves belongs to the line of its call."""
    first, last = FileMap(program.source, program.control, own=program.lines).span(line - 1)
    lines = program.motions.line
    behind = np.flatnonzero((lines > line) & (lines <= last))
    before = np.flatnonzero((lines > first) & (lines <= line))
    if len(behind):
        return int(behind[0])
    return int(before[-1]) + 1 if len(before) else 0


def _part(program: Program, first: int, last: int, rows: tuple[int, int]) -> Part:
    inside = slice(*rows)
    tools = dict.fromkeys(program.motions.tool[inside].tolist())
    offsets = dict.fromkeys(program.motions.work_offset[inside].tolist())
    used = tuple(offset for offset in offsets if offset)
    return Part(first, last, tuple(tool for tool in tools if tool), used, rows)
