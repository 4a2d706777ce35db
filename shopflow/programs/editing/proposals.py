"""Edits that findings ask for: each tried, read again and proved to change nothing else, before anybody sees it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.errors import NotPossible
from shopflow.core.nc import Program, tool_edits
from shopflow.core.review import PersonTouch
from shopflow.core.types import Coolant, Machine, Tool
from shopflow.programs.editing.edit import Edit, apply
from shopflow.programs.editing.effects import Row, described
from shopflow.programs.editing.stretches import pieces_around

MOST_PROPOSED = 20
"""Each is a reading of the whole program."""
MOST_LINES_TRIED = 40
PECK_DIAMETERS = 1.0
"""Depth of a proposed peck: one diameter (common practice, no source; a tool maker lets the first peck go to two)."""

_AFTER_TOOL = re.compile(r", after T(\d+)$")
_H_WORD = re.compile(r"(?<![A-Za-z])H\s*\d", re.IGNORECASE)


@dataclass(frozen=True)
class Given:
    """What proposals are made from. lines: every line of a finding, by its key. shift: H is the tool's number plus
    this. most: of edits that are proposed."""

    program: Program
    machine: Machine | None
    tools: Sequence[Tool]
    lines: Mapping[str, Sequence[int]] = field(default_factory=dict)
    touches: Sequence[PersonTouch] = ()
    shift: int = 0
    most: int = MOST_PROPOSED
    tried: dict[Edit, Row | None] = field(default_factory=dict)

    @cached_property
    def seconds(self) -> float:
        return cycle_time(self.program.motions, self.machine or TYPICAL_MACHINE).total_s

    def tool(self, number: int) -> Tool | None:
        return next((tool for tool in self.tools if tool.number == number), None)

    def try_out(self, edit: Edit) -> Row | None:
        """The edit as it is kept (effects.described); None where it does not fit."""
        if edit not in self.tried:
            try:
                edited = apply(self.program, edit, shift=self.shift)
            except NotPossible:
                self.tried[edit] = None
            else:
                self.tried[edit] = described(self.program, edited, edit, machine=self.machine, seconds=self.seconds)
        return self.tried[edit]


def proposals(given: Given, findings: Iterable[Row]) -> list[Row]:
    """Edits that mend findings, as `effects.described` with `finding` (key) and `also` (keys that it mends as well)."""
    proposed: dict[str, Row] = {}
    for finding in findings:
        ask = ASKED_FOR.get(finding["code"])
        for row in ask(given, finding) if ask else ():
            if row["id"] in proposed:
                proposed[row["id"]]["also"].append(finding["key"])
            elif len(proposed) < given.most:
                proposed[row["id"]] = row | {"finding": finding["key"], "also": []}
    return list(proposed.values())


def _each(given: Given, edits: Iterable[Edit]) -> Iterator[Row]:
    yield from (row for edit in edits if (row := given.try_out(edit)))


def _first(given: Given, edits: Iterable[Edit]) -> Iterator[Row]:
    """Of several ways to mend one thing the first that fits."""
    yield from (row for row, _ in zip(_each(given, edits), range(1), strict=False))


def _pecks(given: Given, finding: Row) -> Iterator[Row]:
    tool = given.tool(finding["tool"])
    depth = f"{PECK_DIAMETERS * tool.diameter_mm:g}" if tool else "0"
    lines = given.lines.get(finding["key"], ())[:MOST_LINES_TRIED]
    yield from _each(given, (Edit("peck", line, value=depth) for line in lines))


def _stop(given: Given, finding: Row) -> Iterator[Row]:
    touch = next((one.reason for one in given.touches if one.reason in finding["message"]), "stop here")
    first, after = _between(given, touch, given.lines.get(finding["key"], ()))
    places = _places_to_stop(given.program, first, after)
    yield from _first(given, (Edit("stop", line, value=touch) for line in places))


def _between(given: Given, touch: str, lines: Sequence[int]) -> tuple[int, int]:
    """Line of the last motion before the touch and of the first after it; an empty range where nobody can tell."""
    if len(lines) == 2:
        return lines[0], lines[1]
    motions = given.program.motions
    named = _AFTER_TOOL.search(touch)
    rows = np.flatnonzero(motions.tool == int(named[1])) if named else np.empty(0, dtype=np.intp)
    if not len(rows) or rows[-1] + 1 >= len(motions):
        return 0, 0
    return int(motions.line[rows[-1]]), int(motions.line[rows[-1] + 1])


def _places_to_stop(program: Program, first: int, after: int) -> list[int]:
    """The lines between two motions, those first behind which spindle and coolant are off: nothing restarts there."""
    lines = range(first, min(after, first + MOST_LINES_TRIED))
    return sorted(lines, key=lambda line: (program.modes_at(line).spindle != 0, bool(program.modes_at(line).coolant)))


def _own_length_offset(given: Given, finding: Row) -> Iterator[Row]:
    """At each line that puts the wrong H in force for this tool."""
    program, tool = given.program, finding["tool"]
    rows = np.flatnonzero(program.motions.tool == tool)
    first, last = (int(program.motions.line[rows[0]]), int(program.motions.line[rows[-1]])) if len(rows) else (1, 0)
    wrong = int(float(finding["measured"]))
    lines = [
        line
        for line in range(max(1, first - MOST_LINES_TRIED), last + 1)
        if _H_WORD.search(program.text(line))
        and (program.modes_at(line).tool, program.modes_at(line).length_offset) == (tool, wrong)
    ]
    yield from _each(given, (Edit("length-offset", line, value=str(tool + given.shift)) for line in lines))


def _coolant(given: Given, finding: Row) -> Iterator[Row]:
    """As the program's other tools have it."""
    floods = bool((given.program.motions.coolant & Coolant.FLOOD).any())
    yield from _each(given, [Edit("coolant", tool=finding["tool"], value="M08" if floods else "M07")])


def _speed(given: Given, finding: Row) -> Iterator[Row]:
    """Within what machine and tool may turn, the feed a tooth kept."""
    tool, limit = given.tool(finding["tool"]), float(finding["limit"])
    most = [tool.max_rpm] if tool is not None and tool.max_rpm else []
    most += [given.machine.max_rpm] if given.machine else []
    rpm = limit if finding["code"] == "rpm-under-machine" else min([limit, *most])
    yield from _each(given, [Edit("speed-feed", tool=finding["tool"], value=f"{rpm:g}")])


def _feed(given: Given, finding: Row) -> Iterator[Row]:
    yield from _each(given, [Edit("feed-limit", tool=finding["tool"], value=f"{float(finding['limit']):g}")])


def _without_air(given: Given, finding: Row) -> Iterator[Row]:
    """The shortest stretch around the run that can go: alone, or with the rapids that lead to it and away from it."""
    spans = pieces_around(given.program, finding["first_line"], finding["last_line"])
    yield from _first(given, (Edit("remove", first, value=str(last)) for first, last in spans))


def _numbers(given: Given, finding: Row) -> Iterator[Row]:
    """All tools without a pocket in one edit: several findings ask for it and it is proposed once."""
    if given.machine is None:
        return
    try:
        crib = {tool.number for tool in given.tools}
        numbers = tool_edits.carousel_numbers(given.program, given.machine.carousel, others=crib)
    except NotPossible:
        return
    value = ", ".join(f"{old}={new}" for old, new in numbers.items())
    yield from _each(given, [Edit("renumber", value=value)])


ASKED_FOR: dict[str, Callable[[Given, Row], Iterator[Row]]] = {
    "plunge-too-deep": _pecks,
    "no-stop": _stop,
    "length-offset-of-another": _own_length_offset,
    "cuts-dry": _coolant,
    "rpm-over-machine": _speed,
    "rpm-under-machine": _speed,
    "rpm-over-tool": _speed,
    "feed-over-machine": _feed,
    "air-cut": _without_air,
    "tool-without-pocket": _numbers,
}
"""The findings that an edit may mend, by their codes."""
