"""Where in a file reading goes on: program numbers, sequence numbers, loops, calls."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shopflow.core.nc.blocks import split_comments
from shopflow.core.nc.codes import Codes
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.o_words import OWords
from shopflow.core.nc.text import Source
from shopflow.core.types import ControlProfile

_PROGRAM_NUMBER = re.compile(r"/?(?:N\d+)?[O:](\d{1,8})", re.ASCII)
_NUMBER_AS_WRITTEN = re.compile(r"[Oo:]\s*\d[\d ]*(?<! )")
_MAY_BE_NUMBER = re.compile(rb"^[ \t/]*(?:N[ \t\d]*)?[O:]", re.IGNORECASE | re.MULTILINE)
_SEQUENCE = re.compile(r"/?N(\d+)", re.ASCII)
_LOOP_BEGINS = re.compile(r"/?(?:N\d+)?(?:WH(?:ILE)?\[.*\])?DO(\d)$", re.ASCII)
_LOOP_ENDS = re.compile(r"/?(?:N\d+)?END(\d)$", re.ASCII)
_CALLED = re.compile(r"M0*98.*P(\d+)|G6[56].*P(\d+)", re.ASCII)
_CALL_DIGITS = 10_000
"""P50012 without L is five times program 12 (common practice, no source)."""


@dataclass(slots=True)
class Call:
    """One open call: the line where it began, the one to go back to, how often it still runs, whether a macro's.

    is_modal: whether G66 makes it, so that its own moves call nothing.
    """

    entry: int
    back_to: int
    left: int
    name: str
    is_macro: bool = False
    is_modal: bool = False


def program_number(line: str, control: ControlProfile) -> tuple[str, str]:
    """The number of a line such as “O1234 (PLATE)” and what is left of the line; ("", line) for any other."""
    if not control.program_numbers or not line.lstrip(" \t/Nn0123456789").startswith(("O", "o", ":")):
        return "", line
    found = _PROGRAM_NUMBER.match(line.upper().replace(" ", ""))
    written = _NUMBER_AS_WRITTEN.search(line)
    if not found or not written:
        return "", line
    return found[1].lstrip("0") or "0", line[written.end() :]


class FileMap:
    """Where things stand in a file; each table is made when it is first asked for. Lines count from 0.

    own: how many lines are the file's own; subprograms from other files follow behind.
    """

    def __init__(self, source: Source, control: ControlProfile, *, own: int) -> None:
        self._source, self._control, self._own = source, control, own

    @cached_property
    def programs(self) -> dict[str, int]:
        """Number of every program in the file and the line where it begins; the first of a number counts."""
        found: dict[str, int] = {}
        for index in self._candidates():
            number, _ = program_number(self._source.line(index), self._control)
            if number:
                found.setdefault(number, index)
        return found

    def _candidates(self) -> list[int]:
        """Lines that may begin with a program number, found in the bytes: a million lines need no look one by one."""
        if b"\n" not in self._source.data:
            return list(range(len(self._source)))
        places = [match.start() for match in _MAY_BE_NUMBER.finditer(self._source.data)]
        indices = np.searchsorted(self._source.starts, places, side="right") - 1
        return [int(index) for index in indices]

    @cached_property
    def o_words(self) -> OWords:
        """The file's O-word lines, where the control has them."""
        return OWords(self._codes, self._control)

    @cached_property
    def _codes(self) -> list[str]:
        return [_code(self._source.line(index), self._control) for index in range(len(self._source))]

    @cached_property
    def _sequence(self) -> dict[int, list[int]]:
        found: dict[int, list[int]] = {}
        for index, code in enumerate(self._codes):
            if match := _SEQUENCE.match(code):
                found.setdefault(int(match[1]), []).append(index)
        return found

    @cached_property
    def loops(self) -> dict[int, int]:
        """From the line of each WHILE or DO to that of its END, and back; a DO without END is not in it."""
        pairs: dict[int, int] = {}
        open_loops: list[tuple[str, int]] = []
        for index, code in enumerate(self._codes):
            if match := _LOOP_BEGINS.match(code):
                open_loops.append((match[1], index))
            elif (match := _LOOP_ENDS.match(code)) and open_loops and open_loops[-1][0] == match[1]:
                begin = open_loops.pop()[1]
                pairs[begin], pairs[index] = index, begin
        return pairs

    def span(self, index: int) -> tuple[int, int]:
        """First line of the program that a line is in, and the one after its last."""
        begins = [0, *sorted(self.programs.values()), len(self._source)]
        place = bisect_right(begins, index)
        return begins[place - 1], begins[min(place, len(begins) - 1)]

    def sequence_line(self, number: int, here: int) -> int:
        """Where N number stands: from here on to the end of this program, else from its beginning; raises Fault."""
        first, last = self.span(here)
        lines = [index for index in self._sequence.get(number, ()) if first <= index < last]
        if not lines:
            raise Fault(f"N{number} is not in this program")
        return next((index for index in lines if index > here), lines[0])

    def calls_in(self, first: int, after: int) -> set[str]:
        """Numbers that the lines from one up to another call; P50012 may be either, so both are told."""
        found = (_CALLED.search(code) for code in self._codes[first:after])
        called = {next(filter(None, match.groups())).lstrip("0") for match in found if match}
        return called | {name[-4:].lstrip("0") for name in called if len(name) > 4}

    @cached_property
    def main(self) -> int:
        """Where the main program begins: the first one that no other calls (common practice, no source)."""
        inside = {number: line for number, line in self.programs.items() if line < self._own}
        if len(inside) < 2:
            return 0
        called = self.calls_in(0, len(self._source))
        first, *others = inside
        if first not in called:
            return 0
        return next((inside[name] for name in others if name not in called), 0)


def _code(line: str, control: ControlProfile) -> str:
    """The code of a line, without blanks and comments; nothing where it is not read."""
    try:
        return split_comments(line, control)[0]
    except Fault:
        return ""


def called(codes: Codes, programs: Callable[[], Mapping[str, int]]) -> tuple[str, int]:
    """Number and repeats of an M98 or M97 block. programs: those of the file, for a P that could mean either."""
    word, repeat = codes.take("P"), codes.take("L")
    if word is None:
        raise Fault("M98 has no P word: which subprogram is called is not stated")
    number = whole(word.value, "P")
    if repeat is not None:
        return str(number), whole(repeat.value, "L")
    if number >= _CALL_DIGITS and str(number) not in programs():
        return str(number % _CALL_DIGITS), number // _CALL_DIGITS
    return str(number), 1


def has_code(line: str, control: ControlProfile) -> bool:
    """Whether a line holds anything but blanks and comments."""
    try:
        code, _ = split_comments(line, control)
    except Fault:
        return True
    return bool(code.strip("%"))
