"""Reads a whole program: line by line, plain stretches at once."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc import flow
from shopflow.core.nc.blocks import Block, read_block, split_comments
from shopflow.core.nc.codes import Codes, sort_words
from shopflow.core.nc.controls import PLAIN
from shopflow.core.nc.execute import run_codes
from shopflow.core.nc.expressions import Fault
from shopflow.core.nc.extent import clear_heights
from shopflow.core.nc.fast import FastPath, fast_path
from shopflow.core.nc.modes import ModeLog
from shopflow.core.nc.program import Limits, Program, Stop
from shopflow.core.nc.reading import Notes, Reading
from shopflow.core.nc.state import MM_PER_IN, State, offset_name
from shopflow.core.nc.text import Source, open_source
from shopflow.core.types import ControlProfile, Coolant, Motions, Tool, Vector

MOST_CACHED_BLOCKS = 20_000


def read(
    data: bytes,
    *,
    control: ControlProfile = PLAIN,
    name: str = "",
    tools: Mapping[int, Tool] | None = None,
    work_offsets: Mapping[int, Vector] | None = None,
    limits: Limits = Limits(),  # noqa: B008  frozen
    fast: bool | None = None,
) -> Program:
    """Read a program into motions.

    tools: by number, for what a program leaves to the tool table. work_offsets: origins in machine coordinates, mm, by
    number (1 is G54); without them a place is unknown after a change of offset. Bad content never raises: it is listed
    in `unread` with its line. fast: whether plain stretches take the fast path, None where it pays. Raises Unreadable
    for what is no program at all: empty, binary, or over limits.max_bytes.
    """
    source = open_source(data, max_bytes=limits.max_bytes)
    reader = _Reader(source, control, limits, tools or {}, work_offsets or {})
    reader.fast = fast_path(source, reader.reading, wanted=fast)
    return reader.run(name)


class _Reader:
    """One reading of one source. `at` is the line to run next, from 0."""

    def __init__(
        self,
        source: Source,
        control: ControlProfile,
        limits: Limits,
        tools: Mapping[int, Tool],
        work_offsets: Mapping[int, Vector],
    ) -> None:
        state = State(origins={number: list(origin) for number, origin in work_offsets.items()})
        state.unit_mm = MM_PER_IN if control.default_unit == "in" else 1.0
        state.cycle_return = control.default_cycle_return
        self.source, self.control, self.limits, self.tools = source, control, limits, tools
        self.reading = Reading(control, limits, state, Notes(limits))
        self.modes = ModeLog()
        self.calls: list[flow.Call] = []
        self.programs: dict[str, int] | None = None
        self.number = ""
        self.at = 0
        self.steps = 0
        self.ends: int | None = None
        self.ended = False
        self.complete = True
        self.run_lines = np.zeros(len(source), dtype=np.bool_)
        self.frame_open = False
        self.blocks: dict[int, Block] = {}
        self.fast: FastPath | None = None

    def run(self, name: str) -> Program:
        while not self.ended and self.at < len(self.source):
            if not self._run_fast():
                self._run_line()
            self._watch_limits()
        if self.calls and self.at >= len(self.source):
            self._refuse(f"subprogram O{self.calls[-1].number} runs off the end of the file without M99")
        return self._program(name)

    def _run_fast(self) -> bool:
        """Read a stretch of plain lines at once, where there is one; subprograms take the full reader."""
        if self.fast is None or self.calls or self.ends is not None:
            return False
        room = min(self.limits.max_steps - self.steps, self.limits.max_motions - len(self.reading.rows))
        modes = self.reading.state.modes()
        first = self.at
        lines = self.fast.advance(first, min(len(self.source), first + room))
        if not lines:
            return False
        self.at, self.steps = first + lines, self.steps + lines
        self.reading.line, self.reading.text = self.at, ""
        self.run_lines[first : self.at] = True
        self.modes.add_plain(first + 1, self.at, modes)
        return True

    def _watch_limits(self) -> None:
        if self.steps >= self.limits.max_steps:
            self._stop_short(f"reading ends here after {self.steps:,} blocks: a program without end, or too long a one")
        elif len(self.reading.rows) >= self.limits.max_motions:
            self._stop_short(f"reading ends here after {len(self.reading.rows):,} motions, the most that are read")

    def _stop_short(self, why: str) -> None:
        if not self.ended:
            self.ended, self.complete = True, False
            self._refuse(why, code="limit")

    def _refuse(self, why: str, code: str = "unread-word") -> None:
        self.reading.notes.refuse(self.reading.line, self.reading.text, why, code)

    def _run_line(self) -> None:
        reading = self.reading
        index = self.at
        self.at += 1
        self.steps += 1
        text = self.source.line(index)
        reading.line, reading.text = index + 1, text
        self.run_lines[index] = True
        try:
            if text.strip() == "%":
                self._frame(index)
            else:
                self._run_text(text, index)
        except Fault as fault:
            self._refuse(str(fault))
            self._forget_place(text)
        self.modes.note(index + 1, reading.state)

    def _frame(self, index: int) -> None:
        """A lone % on the first line with anything on it opens the program, the second ends it [App. A.1]."""
        if self.frame_open:
            self.ended = True
        elif any(self.source.line(before).strip() for before in range(index)):
            raise Fault("a % stands here, and none before the program")
        self.frame_open = True

    def _run_text(self, text: str, index: int) -> None:
        number, rest = flow.program_number(text, self.control)
        if number:
            self._enter_program(number)
            if self.ended:
                return
        block = self._block(rest, index)
        if block.deletable:
            self.reading.assume("block-delete", "blocks that begin with / are read as run (switch off)")
        codes = sort_words(block, self.control)
        self._run_block(block, codes)
        if block.comment:
            self.reading.last_comment = block.comment
        elif block.words:
            self.reading.last_comment = ""

    def _block(self, text: str, index: int) -> Block:
        """Blocks without variables are kept while subprograms run, which come by again."""
        if self.calls and index in self.blocks:
            return self.blocks[index]
        block = read_block(text, self.control, self.reading.variable)
        if self.calls and "#" not in text and len(self.blocks) < MOST_CACHED_BLOCKS:
            self.blocks[index] = block
        return block

    def _enter_program(self, number: str) -> None:
        if self.calls:
            if self.at - 1 != self.calls[-1].entry:
                self._refuse(f"subprogram O{self.calls[-1].number} runs into O{number} without M99")
        elif self.number:
            self._refuse(f"the program runs into O{number} without M30 or M99")
            self.ended = True
        else:
            self.number = f"O{number}"

    def _run_block(self, block: Block, codes: Codes) -> None:
        call = flow.called(codes) if codes.m.get("flow") == 98 else None
        returns_to = codes.take("P") if codes.m.get("flow") == 99 else None
        if returns_to is not None:
            raise Fault("M99 with P, a return to a line of the caller, is not read")
        run_codes(self.reading, codes)
        self._store(block)
        if call is not None:
            self._call(*call)
        elif codes.m.get("flow") == 99:
            self._return()
        elif codes.m.get("stop") in (2, 30):
            self._end()

    def _store(self, block: Block) -> None:
        """Settings take effect after the whole block, all at once [3.3.3]."""
        for number, value in block.settings:
            if not self.control.macros and not 1 <= number <= 5399:
                raise Fault(f"#{number} does not exist; parameters go from 1 to 5399")
            self.reading.variables_used.add(number)
            self.reading.variables[number] = value

    def _call(self, number: str, repeats: int) -> None:
        if self.programs is None:
            self.programs = flow.index_programs(self.source, self.control)
        entry = self.programs.get(number)
        if entry is None:
            raise Fault(f"subprogram O{number} is not in this file; what it does is not known")
        if len(self.calls) >= self.limits.max_nesting:
            raise Fault(f"subprograms call each other more than {self.limits.max_nesting} deep")
        if repeats < 1:
            raise Fault("a subprogram is called less than once")
        self.calls.append(flow.Call(entry, self.at, repeats - 1, int(number)))
        self.at = entry

    def _return(self) -> None:
        if not self.calls:
            self.reading.assume("repeats-forever", "M99 in the main program runs it again and again: read once")
            self._end()
            return
        call = self.calls[-1]
        if call.left > 0:
            call.left -= 1
            self.at = call.entry
        else:
            self.calls.pop()
            self.at = call.back_to

    def _end(self) -> None:
        """M2 and M30 also put the modes back [3.6.1]."""
        state = self.reading.state
        state.shift = [0.0, 0.0, 0.0]
        state.plane, state.absolute, state.feed_mode, state.work_offset = 17, True, 94, 1
        state.side = state.spindle = state.radius_offset = 0
        state.coolant, state.motion, state.cycle = Coolant.OFF, 10, None
        self.ends, self.ended = self.reading.line, True

    def _forget_place(self, text: str) -> None:
        """After a block that was not carried out, nobody knows where the axes it names stand."""
        try:
            code, _ = split_comments(text, self.control)
        except Fault:
            code = text.upper()
        for axis, letter in enumerate("XYZ"):
            if letter in code:
                self.reading.state.known[axis] = False

    def _program(self, name: str) -> Program:
        self._note_lines_not_run()
        reading, notes = self.reading, self.reading.notes
        if notes.unlisted:
            notes.limits = Limits(max_unread=len(notes.unread) + 1)
            notes.refuse(reading.line, "", f"and {notes.unlisted:,} more entries, not listed singly", "limit")
        motions, end_known = reading.rows.finish()
        offsets = dict.fromkeys(motions.work_offset.tolist())
        return Program(
            name=PurePath(name).name,
            source=self.source,
            control=self.control,
            motions=motions,
            end_known=end_known,
            units=_units(reading.state),
            stated=frozenset(reading.state.stated),
            tools=tuple(reading.tools),
            work_offsets=tuple(offset_name(number) for number in offsets if number),
            stops=_measured(reading, motions, end_known),
            program_ends=self.ends,
            unread=tuple(notes.unread),
            assumptions=tuple(notes.assumed.values()),
            number=self.number,
            parameters=tuple(sorted(reading.variables_used)),
            length_offsets_set=frozenset(),
            lines_run=self.run_lines,
            complete=self.complete,
            _modes=self.modes,
        )

    def _note_lines_not_run(self) -> None:
        for index in np.flatnonzero(~self.run_lines):
            text = self.source.line(int(index))
            if flow.has_code(text, self.control):
                why = "this line and maybe others after the program end, or never called, are not run"
                self.reading.notes.assume("not-run", int(index) + 1, text, why)
                return


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
