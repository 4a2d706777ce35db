"""What an edit changes, told before anybody takes it: the lines, the time, the way and the reach."""

from __future__ import annotations

from typing import Any

import numpy as np

from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.nc import Program
from shopflow.core.nc.edits import Edited
from shopflow.core.types import Machine
from shopflow.programs.comparing import reach
from shopflow.programs.editing.edit import Edit

MOST_SHOWN = 12
"""Lines shown with an edit; the rest is counted."""

Row = dict[str, Any]


def described(program: Program, edited: Edited, edit: Edit, *, machine: Machine | None, seconds: float) -> Row:
    """The edit as it is kept and shown: `id`, `kind`, `line`, `tool`, `value`, `saying`; `changes`, triples of "out" or
    "in", line and text, with `more` that are not listed; `seconds`, `cut_mm` and `motions`, what it adds to the
    program; `reach` (comparing.reach). seconds: that the program takes without it.
    """
    changes = _changes(program, edited)
    after = edited.after
    return {
        "id": edit.id,
        "kind": edit.kind,
        "line": edit.line,
        "tool": edit.tool,
        "value": edit.value,
        "saying": edited.saying,
        "changes": changes[:MOST_SHOWN],
        "more": max(0, len(changes) - MOST_SHOWN),
        "seconds": cycle_time(after.motions, machine or TYPICAL_MACHINE).total_s - seconds,
        "cut_mm": after.cut_length_mm - program.cut_length_mm,
        "motions": len(after.motions) - len(program.motions),
        "reach": reach(program.extent, after.extent),
    }


def _changes(program: Program, edited: Edited) -> list[list[Any]]:
    """In the order of the text; a line that became another stands before what it became."""
    origin = np.array(edited.origin, dtype=np.int64)
    gone = np.setdiff1d(np.arange(1, program.lines + 1), origin)
    found = [(float(line), 0, ["out", int(line), program.text(int(line))]) for line in gone]
    place = np.maximum.accumulate(origin)
    for index in np.flatnonzero(origin == 0):
        new = int(index) + 1
        found.append((float(place[index]) + 0.5, new, ["in", new, edited.after.text(new)]))
    number_of = {int(origin[index]): int(index) + 1 for index in np.flatnonzero(np.isin(origin, edited.lines))}
    for line, new in number_of.items():
        if line and program.text(line) != edited.after.text(new):
            found.append((float(line), 0, ["out", line, program.text(line)]))
            found.append((float(line), 1, ["in", new, edited.after.text(new)]))
    return [change for _, _, change in sorted(found, key=lambda item: item[:2])]
