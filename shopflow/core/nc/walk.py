"""Where reading stands in a program: the line that runs next, the calls that are open, and the macro that G66 gave."""

from __future__ import annotations

from shopflow.core.nc import flow
from shopflow.core.nc.blocks import Block, Flow, Word
from shopflow.core.nc.codes import Codes
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.macro_calls import MacroCall
from shopflow.core.nc.o_words import Statement
from shopflow.core.nc.reading import AXES, Reading


class Walk:
    """at: the line to run next, from 0. calls: the open ones, the innermost last. Whatever cannot be gone to raises
    Fault."""

    def __init__(self, file_map: flow.FileMap, reading: Reading) -> None:
        self.map, self.reading = file_map, reading
        self.at = 0
        self.calls: list[flow.Call] = []
        self.modal: MacroCall | None = None
        self._modal_changed = 0

    def jump(self, jump: Flow, index: int) -> None:
        """IF, GOTO, WHILE, DO, END (common practice, no source)."""
        if jump.kind == "GOTO":
            if jump.holds:
                self.at = self.map.sequence_line(jump.number, index)
        elif jump.kind in ("DO", "END") and index not in self.map.loops:
            raise Fault(
                f"{jump.kind}{jump.number} has no {'END' if jump.kind == 'DO' else 'DO'}{jump.number} of its own"
            )
        elif jump.kind == "DO" and not jump.holds:
            self.at = self.map.loops[index] + 1
        elif jump.kind == "END":
            self.at = self.map.loops[index]

    def statement(self, statement: Statement, index: int) -> None:
        """One line of O-words."""
        go = self.map.o_words.run(statement, index, self.reading.variable)
        if go.call and go.to is not None:
            self._open(go.to, 1, f"O{statement.label}", is_macro=True)
            self.reading.variables.enter(dict(enumerate(go.arguments, start=1)))
        elif go.leave and self.calls:
            self.back(None)
        elif go.leave:
            raise Fault(f"O{statement.label} {statement.keyword} outside a call")
        elif go.to is not None:
            self.at = go.to

    def call(self, codes: Codes, number: str, repeats: int) -> None:
        """M98 opens a program, M97 a line of this one."""
        if codes.m.get("flow") == 97:
            self._open(self.map.sequence_line(int(number), self.at - 1), repeats, f"N{number}")
        else:
            self._open(self._program_line(number), repeats, f"O{number}")

    def call_macro(self, call: MacroCall) -> None:
        """G65 calls at once, G66 from the next block that moves on."""
        entry = self._program_line(call.number)
        if not call.is_modal:
            self._enter_macro(call, entry)
        elif self.modal is not None:
            raise Fault("G66 while another G66 is in force; which of the two is called first depends on the control")
        else:
            self.modal, self._modal_changed = call, 0

    def _enter_macro(self, call: MacroCall, entry: int) -> None:
        self._open(entry, call.repeats, f"O{call.number}", is_macro=True)
        self.calls[-1].is_modal = call.is_modal
        self.reading.variables.enter(call.arguments)

    def call_after_move(self, block: Block, codes: Codes, moved: bool) -> None:
        """What G66 calls, once the move of a block is made (common practice, no source)."""
        if self.modal is None or not moved or any(call.is_modal for call in self.calls):
            return
        if "once" in codes.g or "flow" in codes.m:
            raise Fault("a move of this kind with G66 in force; whether the macro is called depends on the control")
        if self._modal_changed:
            changed = f"O{self.modal.number} has changed #{self._modal_changed}, which G66 gave it"
            raise Fault(f"{changed}; whether this call gets it anew depends on the control")
        if any(word.letter in AXES for word in block.words):
            self._enter_macro(self.modal, self._program_line(self.modal.number))

    def _program_line(self, number: str) -> int:
        entry = self.map.programs.get(number)
        if entry is None:
            raise Fault(f"subprogram O{number} is not in this file; what it does is not known")
        return entry

    def _open(self, entry: int, repeats: int, name: str, *, is_macro: bool = False) -> None:
        if len(self.calls) >= self.reading.limits.max_nesting:
            raise Fault(f"subprograms call each other more than {self.reading.limits.max_nesting} deep")
        if repeats < 1:
            raise Fault("a subprogram is called less than once")
        self.calls.append(flow.Call(entry, self.at, repeats - 1, name, is_macro))
        self.at = entry

    def back(self, to: Word | None) -> None:
        """M99, or the end of an O-word's subprogram, in an open call; to: the line to go on from, where P names one."""
        call = self.calls[-1]
        if call.left > 0 and to is None:
            call.left -= 1
            self.at = call.entry
            return
        self.calls.pop()
        if call.is_macro:
            self._leave_macro(call)
        self.at = call.back_to
        if to is not None:
            self.at = self.map.sequence_line(whole(to.value, "P"), call.back_to - 1)

    def _leave_macro(self, call: flow.Call) -> None:
        """Whether G66 gives its arguments anew at each call depends on the control, so the macro must leave them."""
        left = self.reading.variables.leave()
        if call.is_modal and self.modal is not None:
            given = self.modal.arguments.items()
            self._modal_changed = next((number for number, value in given if left.get(number) != value), 0)
