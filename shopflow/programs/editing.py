"""Edits that a review proposes: each tried, read again and proved to change nothing else, before anybody sees it.

A proposal is plain values, since it is kept with the review: `id`, `kind` (peck or stop), `line`, `value` (the peck in
mm, or what the person is to do), `finding` (key), `saying`, `before` and `after` (pairs of line and text),
`seconds` and `cut_mm` (what the edit adds to the program).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np

from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.errors import NotPossible
from shopflow.core.nc import Program, edits
from shopflow.core.nc.edits import Edited
from shopflow.core.review import PersonTouch
from shopflow.programs.inputs import Inputs
from shopflow.records.canonical import digest

MOST_PROPOSED = 20
"""Each is a reading of the whole program."""
MOST_LINES_TRIED = 40
PECK_DIAMETERS = 1.0
"""Depth of a proposed peck: one diameter (common practice, no source; a tool maker lets the first peck go to two)."""

_AFTER_TOOL = re.compile(r", after T(\d+)$")

Row = dict[str, Any]


def proposals(
    program: Program, inputs: Inputs, findings: Iterable[Row], lines: dict[str, tuple[int, ...]]
) -> list[Row]:
    """Edits that mend findings. lines: every line of a finding, by its key."""
    proposed: dict[str, Row] = {}
    for finding in findings:
        for row in _for_finding(program, inputs, finding, lines.get(finding["key"], ())):
            if len(proposed) < MOST_PROPOSED:
                proposed.setdefault(row["id"], row)
    return list(proposed.values())


def apply(program: Program, row: Row) -> Edited:
    """Carry one edit out on this reading. Raises NotPossible where it does not fit or would change anything else."""
    if row["kind"] == "peck":
        return edits.peck(program, row["line"], float(row["value"]))
    return edits.insert_stop(program, row["line"], row["value"])


def _for_finding(program: Program, inputs: Inputs, finding: Row, lines: tuple[int, ...]) -> Iterator[Row]:
    if finding["code"] == "plunge-too-deep":
        diameter = next((tool.diameter_mm for tool in inputs.tools if tool.number == finding["tool"]), 0.0)
        for line in lines[:MOST_LINES_TRIED]:
            yield from _tried(program, inputs, finding, "peck", line, f"{PECK_DIAMETERS * diameter:g}")
    elif finding["code"] == "no-stop":
        touch = _touch_of(inputs, finding)
        for line in _places_to_stop(program, *_between(program, touch, lines)):
            found = list(_tried(program, inputs, finding, "stop", line, touch))
            if found:
                yield found[0]
                return


def _between(program: Program, touch: str, lines: tuple[int, ...]) -> tuple[int, int]:
    """Line of the last motion before the touch and of the first after it; an empty range where nobody can tell."""
    if len(lines) == 2:
        return lines[0], lines[1]
    named = _AFTER_TOOL.search(touch)
    rows = np.flatnonzero(program.motions.tool == int(named[1])) if named else np.empty(0, dtype=np.intp)
    if not len(rows) or rows[-1] + 1 >= len(program.motions):
        return 0, 0
    return int(program.motions.line[rows[-1]]), int(program.motions.line[rows[-1] + 1])


def _places_to_stop(program: Program, first: int, after: int) -> list[int]:
    """The lines between two motions, those first behind which spindle and coolant are off: nothing restarts there."""
    lines = range(first, min(after, first + MOST_LINES_TRIED))
    return sorted(lines, key=lambda line: (program.modes_at(line).spindle != 0, bool(program.modes_at(line).coolant)))


def _touch_of(inputs: Inputs, finding: Row) -> str:
    touches: tuple[PersonTouch, ...] = inputs.plan.person_touches
    return next((touch.reason for touch in touches if touch.reason in finding["message"]), "stop here")


def _tried(program: Program, inputs: Inputs, finding: Row, kind: str, line: int, value: str) -> Iterator[Row]:
    """The edit where it can be carried out; nothing where it does not fit this line."""
    row: Row = {"kind": kind, "line": line, "value": value, "finding": finding["key"]}
    try:
        edited = apply(program, row)
    except NotPossible:
        return
    yield row | {"id": digest([kind, line, value])[:16], "saying": edited.saying} | effect(program, edited, inputs)


def effect(program: Program, edited: Edited, inputs: Inputs) -> Row:
    """What the edit changes: the lines, the time and the way."""
    machine = inputs.machine or TYPICAL_MACHINE
    added = edited.after.lines - program.lines
    line = edited.lines[0]
    shown = range(line + 1, line + 1 + added) if added else (line,)
    return {
        "before": [] if added else [[line, program.text(line)]],
        "after": [[number, edited.after.text(number)] for number in shown],
        "seconds": cycle_time(edited.after.motions, machine).total_s - cycle_time(program.motions, machine).total_s,
        "cut_mm": edited.after.cut_length_mm - program.cut_length_mm,
    }
