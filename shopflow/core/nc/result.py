"""From a finished reading to the `Program` that people ask."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc.expressions import NAMED
from shopflow.core.nc.extent import clear_heights
from shopflow.core.nc.flow import has_code
from shopflow.core.nc.modes import ModeLog
from shopflow.core.nc.program import Limits, Program, Stop
from shopflow.core.nc.reading import Reading
from shopflow.core.nc.state import State, offset_name
from shopflow.core.nc.text import Source
from shopflow.core.types import Motions

_NUMBERED_FILE = re.compile(r"[Oo]?(\d{1,8})", re.ASCII)


@dataclass
class Outcome:
    """What going through the file added to the reading. run_lines: (lines,) bool, which of them ran."""

    run_lines: NDArray[np.bool_]
    number: str = ""
    ends: int | None = None
    complete: bool = True


def program_of(reading: Reading, outcome: Outcome, source: Source, modes: ModeLog, name: str) -> Program:
    """Everything put together; the reading is used up."""
    _note_lines_not_run(reading, outcome, source)
    _note_other_number(reading, outcome, source, PurePath(name).stem)
    notes = reading.notes
    if notes.unlisted:
        notes.limits = Limits(max_unread=len(notes.unread) + 1)
        notes.refuse(reading.line, "", f"and {notes.unlisted:,} more entries, not listed singly", "limit")
    motions, end_known = reading.rows.finish()
    offsets = dict.fromkeys(motions.work_offset.tolist())
    return Program(
        name=PurePath(name).name,
        source=source,
        control=reading.control,
        motions=motions,
        end_known=end_known,
        units=_units(reading.state),
        stated=frozenset(reading.state.stated),
        tools=tuple(reading.tools),
        work_offsets=tuple(offset_name(number) for number in offsets if number),
        stops=_measured(reading, motions, end_known),
        program_ends=outcome.ends,
        unread=tuple(notes.unread),
        assumptions=tuple(notes.assumed.values()),
        number=outcome.number,
        parameters=tuple(sorted(number for number in reading.variables.used if number < NAMED)),
        length_offsets_set=frozenset(reading.length_offsets_set),
        lines_run=outcome.run_lines,
        complete=outcome.complete,
        tools_known=reading.tools_known,
        _modes=modes,
    )


def _note_lines_not_run(reading: Reading, outcome: Outcome, source: Source) -> None:
    for index in np.flatnonzero(~outcome.run_lines):
        text = source.line(int(index))
        if has_code(text, reading.control):
            why = "this line and maybe others after the program end, or never called, are not run"
            reading.notes.assume("not-run", int(index) + 1, text, why)
            return


def _note_other_number(reading: Reading, outcome: Outcome, source: Source, stem: str) -> None:
    """A file named by a number that is not the one inside: one of the two is wrong."""
    named = _NUMBERED_FILE.fullmatch(stem)
    if named and outcome.number and int(named[1]) != int(outcome.number[1:]):
        why = f"the file is named {stem} and holds {outcome.number}"
        reading.notes.assume("other-number", 1, source.line(0), why)


def _measured(reading: Reading, motions: Motions, end_known: NDArray[np.bool_]) -> tuple[Stop, ...]:
    """The stops with how far the tool stands clear at each."""
    heights = clear_heights(motions, end_known) if reading.stops else np.empty(0)
    measured = []
    for stop, is_stated in zip(reading.stops, reading.stop_heights_stated, strict=True):
        row = stop.after_motion
        if stop.retracted or row < 0:
            height = math.inf
        elif motions.work_offset[row] and end_known[row, 2] and not is_stated:
            height = math.nan  # a new length or work offset since the last motion
        else:
            height = float(heights[row])
        measured.append(replace(stop, height_mm=height, retracted=height > 0.0))
    return tuple(measured)


def _units(state: State) -> str:
    if {"mm", "inch"} <= state.stated:
        return "mixed"
    return next((unit for unit in ("mm", "inch") if unit in state.stated), "not stated")
