"""Where in a file reading goes on: program numbers, subprogram calls and returns, program end."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shopflow.core.nc.blocks import split_comments
from shopflow.core.nc.codes import Codes
from shopflow.core.nc.expressions import Fault, whole
from shopflow.core.nc.text import Source
from shopflow.core.types import ControlProfile

_PROGRAM_NUMBER = re.compile(r"/?(?:N\d+)?[O:](\d{1,8})", re.ASCII)
_CALL_DIGITS = 10_000
"""P50012 without L is five times program 12 (common practice, no source)."""


@dataclass(slots=True)
class Call:
    """One open call: where it began, where to go back to, and how often it still runs."""

    entry: int
    back_to: int
    left: int
    number: int


def program_number(line: str, control: ControlProfile) -> tuple[str, str]:
    """The number of a line such as “O1234 (PLATE)” and what is left of the line; ("", line) for any other."""
    if not control.program_numbers or not line.lstrip(" \t/Nn0123456789").startswith(("O", "o", ":")):
        return "", line
    found = _PROGRAM_NUMBER.match(line.upper().replace(" ", ""))
    if not found:
        return "", line
    rest = line[re.search(r"[Oo:]\s*[\d ]*\d", line).end() :]  # type: ignore[union-attr]
    return found[1].lstrip("0") or "0", rest


def index_programs(source: Source, control: ControlProfile) -> dict[str, int]:
    """Number of every program in the file and the line (from 0) where it begins; the first of a number counts."""
    found: dict[str, int] = {}
    for index in range(len(source)):
        number, _ = program_number(source.line(index), control)
        if number:
            found.setdefault(number, index)
    return found


def called(codes: Codes) -> tuple[str, int]:
    """Number and repeats of an M98 block."""
    word, repeat = codes.take("P"), codes.take("L")
    if word is None:
        raise Fault("M98 has no P word: which subprogram is called is not stated")
    number = whole(word.value, "P")
    if repeat is not None:
        return str(number), whole(repeat.value, "L")
    if number >= _CALL_DIGITS:
        return str(number % _CALL_DIGITS), number // _CALL_DIGITS
    return str(number), 1


def has_code(line: str, control: ControlProfile) -> bool:
    """Whether a line holds anything but blanks and comments."""
    try:
        code, _ = split_comments(line, control)
    except Fault:
        return True
    return bool(code.strip("%"))
