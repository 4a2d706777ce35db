"""Reads a whole program: line by line, plain stretches at once, jumping where the program jumps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from shopflow.core.nc import flow
from shopflow.core.nc.blocks import Block, Word, read_block, split_comments
from shopflow.core.nc.codes import Codes, sort_words
from shopflow.core.nc.control_macros import described, run_described
from shopflow.core.nc.controls import PLAIN
from shopflow.core.nc.execute import run_codes
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.fast import FastPath, fast_path
from shopflow.core.nc.macro_calls import macro_call
from shopflow.core.nc.modes import ModeLog
from shopflow.core.nc.o_words import statement_of
from shopflow.core.nc.program import Limits, Program
from shopflow.core.nc.reading import Notes, Reading
from shopflow.core.nc.result import Outcome, program_of
from shopflow.core.nc.state import MM_PER_IN, State
from shopflow.core.nc.text import Source, open_source, with_library
from shopflow.core.nc.walk import Walk
from shopflow.core.types import ControlProfile, Coolant, Tool, Vector

MOST_CACHED_BLOCKS = 20_000


def read(
    data: bytes,
    *,
    control: ControlProfile = PLAIN,
    name: str = "",
    tools: Mapping[int, Tool] | None = None,
    work_offsets: Mapping[int, Vector] | None = None,
    limits: Limits = Limits(),  # noqa: B008  frozen
    library: Sequence[bytes] = (),
    fast: bool | None = None,
) -> Program:
    """Read a program into motions.

    tools: by number, for what a program leaves to the tool table. work_offsets: origins in machine coordinates, mm, by
    number (1 is G54); without them a place is unknown after a change of offset. Bad content never raises: it is listed
    in `unread` with its line. library: other files whose subprograms may be called; what they do counts at the line of
    the call. fast: whether plain stretches take the fast path, None where it pays. Raises Unreadable
    for what is no program at all: empty, binary, or over limits.max_bytes.
    """
    source = open_source(data, max_bytes=limits.max_bytes)
    whole_source = with_library(source, library, max_bytes=2 * limits.max_bytes) if library else source
    reader = _Reader(whole_source, len(source), control, limits, tools or {}, work_offsets or {})
    reader.fast = fast_path(source, reader.reading, wanted=fast)
    return reader.run(name, source)


class _Reader:
    """One reading of one source. `at` is the line to run next, from 0."""

    def __init__(
        self,
        source: Source,
        own: int,
        control: ControlProfile,
        limits: Limits,
        tools: Mapping[int, Tool],
        work_offsets: Mapping[int, Vector],
    ) -> None:
        state = State(origins={number: list(origin) for number, origin in work_offsets.items()})
        state.unit_mm = MM_PER_IN if control.default_unit == "in" else 1.0
        state.cycle_return = control.default_cycle_return
        self.source, self.control, self.limits = source, control, limits
        self.reading = Reading(control, limits, state, Notes(limits), tools_known=tools)
        self.reading.text_of = lambda line: source.line(line - 1)
        self.own = own
        self.outcome = Outcome(np.zeros(own, dtype=np.bool_))
        self.map = flow.FileMap(source, control, own=own)
        self.modes = ModeLog()
        self.walk = Walk(self.map, self.reading)
        self.steps = 0
        self.ended = False
        self.frame_open = False
        self.blocks: dict[int, Block] = {}
        self.fast: FastPath | None = None

    def run(self, name: str, source: Source) -> Program:
        if self.control.text_before_percent:
            self._skip_to_percent()
        if self.control.program_numbers and self.control.subprogram_calls:
            self._go_to_main()
        while not self.ended and self.walk.at < self._end_of_file:
            if not self._run_fast():
                self._run_line()
            self._watch_limits()
        if self.walk.calls and self.walk.at >= self._end_of_file:
            self._refuse(f"subprogram {self.walk.calls[-1].name} runs off the end of the file without M99")
        self.reading.end_compensation()
        return program_of(self.reading, self.outcome, source, self.modes, name)

    @property
    def _end_of_file(self) -> int:
        """The main program ends with its own file; a call may lead into the others."""
        return len(self.source) if self.walk.calls else self.own

    def _skip_to_percent(self) -> None:
        """What stands before the first lone % is for people (common practice, no source)."""
        head = range(min(self.own, 100))
        first = next((index for index in head if self.source.line(index).strip() == "%"), 0)
        after = range(first + 1, min(self.own, first + 100))
        opens = any(flow.has_code(self.source.line(index), self.control) for index in after)
        if opens and any(self.source.line(index).strip() for index in range(first)):
            self.walk.at = first + 1
            self.frame_open = True
            self.outcome.run_lines[: first + 1] = True
            self.reading.notes.assume("before-percent", 1, self.source.line(0), "text before the first % is not read")

    def _go_to_main(self) -> None:
        main = self.map.main
        if main:
            self.walk.at = main
            text = self.source.line(self.walk.at)
            why = "the programs before this one are called by it: it is read as the main program"
            self.reading.notes.assume("main-assumed", self.walk.at + 1, text, why)

    def _run_fast(self) -> bool:
        """Read a stretch of plain lines at once, where there is one; subprograms take the full reader."""
        if self.fast is None or self.walk.calls or self.walk.modal:
            return False
        room = min(self.limits.max_steps - self.steps, self.limits.max_motions - len(self.reading.rows))
        modes = self.reading.state.modes()
        first = self.walk.at
        lines = self.fast.advance(first, min(self.own, first + room))
        if not lines:
            return False
        self.walk.at, self.steps = first + lines, self.steps + lines
        self.reading.line, self.reading.text = self.walk.at, ""
        self.outcome.run_lines[first : self.walk.at] = True
        self.modes.add_plain(first + 1, self.walk.at, modes)
        return True

    def _watch_limits(self) -> None:
        if self.steps >= self.limits.max_steps:
            self._stop_short(f"reading ends here after {self.steps:,} blocks: a program without end, or too long a one")
        elif len(self.reading.rows) >= self.limits.max_motions:
            self._stop_short(f"reading ends here after {len(self.reading.rows):,} motions, the most that are read")

    def _stop_short(self, why: str) -> None:
        if not self.ended:
            self.ended, self.outcome.complete = True, False
            self._refuse(why, code="limit")

    def _refuse(self, why: str, code: str = "unread-word") -> None:
        self.reading.notes.refuse(self.reading.line, self.reading.text, why, code)

    def _run_line(self) -> None:
        reading = self.reading
        index = self.walk.at
        self.walk.at += 1
        self.steps += 1
        text = self.source.line(index)
        is_own = index < self.own
        reading.line, reading.text = index + 1 if is_own else self.walk.calls[0].back_to, text
        if is_own:
            self.outcome.run_lines[index] = True
        try:
            if text.strip() == "%" and is_own:
                self._frame(index)
            else:
                self._run_text(text, index)
        except Fault as fault:
            self._refuse(str(fault))
            self._forget_place(text)
        if is_own:
            self.modes.note(index + 1, reading.state)

    def _frame(self, index: int) -> None:
        """A lone % on the first line with anything on it opens the program, the second ends it [App. A.1]."""
        if self.frame_open or self.outcome.number:
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
        if self.control.o_words and (statement := statement_of(split_comments(rest, self.control)[0])):
            self.walk.statement(statement, index)
            return
        block = self._block(rest, index)
        if block.deletable:
            self.reading.assume("block-delete", "blocks that begin with / are read as run (switch off)")
        if block.flow is not None:
            self.walk.jump(block.flow, index)
        elif macro := described(block, self.control):
            run_described(self.reading, block, macro)
        elif call := macro_call(block, self.control):
            self.walk.call_macro(call)
        else:
            self._run_block(block, sort_words(block, self.control))
        if block.comment:
            self.reading.last_comment = block.comment
        elif block.words:
            self.reading.last_comment = ""

    def _block(self, text: str, index: int) -> Block:
        """Blocks without variables are kept while subprograms run, which come by again."""
        if self.walk.calls and index in self.blocks:
            return self.blocks[index]
        block = read_block(text, self.control, self.reading.variable)
        if self.walk.calls and "#" not in text and len(self.blocks) < MOST_CACHED_BLOCKS:
            self.blocks[index] = block
        return block

    def _enter_program(self, number: str) -> None:
        if self.walk.calls:
            if self.walk.at - 1 != self.walk.calls[-1].entry:
                self._refuse(f"subprogram {self.walk.calls[-1].name} runs into O{number} without M99")
        elif self.outcome.number:
            self._refuse(f"the program runs into O{number} without M30 or M99")
            self.ended = True
        else:
            self.outcome.number = f"O{number}"

    def _run_block(self, block: Block, codes: Codes) -> None:
        jump = codes.m.get("flow")
        call = flow.called(codes, lambda: self.map.programs) if jump in (97, 98) else None
        returns_to = codes.take("P") if jump == 99 else None
        motions_before = self.reading.motions_so_far
        run_codes(self.reading, codes)
        self._store(block)
        if codes.g.get("modal call") == 670:
            self.walk.modal = None
        self.walk.call_after_move(block, codes, moved=self.reading.motions_so_far > motions_before)
        if call is not None:
            self.walk.call(codes, *call)
        elif jump == 99:
            self._return(returns_to)
        elif codes.m.get("stop") in (2, 30):
            self._end()

    def _store(self, block: Block) -> None:
        """Settings take effect after the whole block, all at once [3.3.3]."""
        for number, value in block.settings:
            stop = self.reading.variables.set(number, value)
            if stop:
                self.reading.stop(stop, block.comment or self.reading.last_comment)

    def _return(self, to: Word | None) -> None:
        """M99; in the main program it begins anew (common practice, no source)."""
        if self.walk.calls:
            self.walk.back(to)
        elif to is not None:
            self.walk.at = self.map.sequence_line(whole(to.value, "P"), self.walk.at - 1)
        else:
            self.reading.assume("repeats-forever", "M99 in the main program runs it again and again: read once")
            self._end()

    def _end(self) -> None:
        """M2 and M30 also put the modes back [3.6.1]."""
        state = self.reading.state
        state.shift = [0.0, 0.0, 0.0]
        state.plane, state.absolute, state.feed_mode, state.work_offset = 17, True, 94, 1
        state.side = state.spindle = state.radius_offset = 0
        state.coolant, state.motion, state.cycle = Coolant.OFF, 10, None
        self.outcome.ends, self.ended = self.reading.line, True

    def _forget_place(self, text: str) -> None:
        """After a block that was not carried out, nobody knows where the axes it names stand."""
        try:
            code, _ = split_comments(text, self.control)
        except Fault:
            code = text.upper()
        for axis, letter in enumerate("XYZ"):
            if letter in code:
                self.reading.state.known[axis] = False
