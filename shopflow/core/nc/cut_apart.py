"""A part between two stops, or between two lines that a person names, as a program of its own.

What the whole has in force where the part begins is given again at its head, and it gets an end of its own. Read by
itself it must move as the whole does there (`cut_proof`): else it is refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shopflow.core.errors import NotPossible
from shopflow.core.nc.cut_proof import prove_piece
from shopflow.core.nc.machine_text import comment_lines
from shopflow.core.nc.modes import Modes
from shopflow.core.nc.one_file import called_from, program_spans
from shopflow.core.nc.patch import line_end_of
from shopflow.core.nc.program import Program
from shopflow.core.nc.restart import codes_of, parts
from shopflow.core.nc.run import read
from shopflow.core.nc.state import MM_PER_IN
from shopflow.core.nc.writing import check_retracted, coolant_again, modes_again, plain_number

COMMENT_LENGTH = 60


@dataclass(frozen=True)
class Piece:
    """One part as a program of its own.

    first, last: its lines in the whole. rows: its first motion there and the one after its last. head: the lines that
    were put before it.
    """

    data: bytes
    first: int
    last: int
    rows: tuple[int, int]
    head: tuple[str, ...]


def cut_apart(program: Program, after: Collection[int], *, numbers: Sequence[str] = ()) -> tuple[Piece, ...]:
    """The program as several, cut behind these lines: stops, or places where a stop could stand.

    numbers: such as "O1002", for each piece but the first, which keeps its own; only used where the program has one. A
    stop at which a piece ends becomes its end. Raises NotPossible where a piece would not move as the whole does there.
    """
    cuts = sorted(set(after))
    for line in cuts:
        check_retracted(program, line)
    first, last = _main_span(program)
    bounds = [first - 1, *cuts, last]
    if any(one >= other for one, other in pairwise(bounds)):
        raise NotPossible(f"Cut behind a line from {first} to {last - 1}: there the program runs.")
    behind = {part.last: part.rows[1] for part in parts(program, also_after=frozenset(cuts))}
    rows = [0, *(behind[line] for line in cuts), len(program.motions)]
    spans = [(before + 1, line) for before, line in pairwise(bounds)]
    own = ["", *numbers, *[""] * len(cuts)]
    return tuple(_piece(program, *each) for each in zip(spans, pairwise(rows), own, strict=False))


def _main_span(program: Program) -> tuple[int, int]:
    """First and last line of the program that runs, without subprograms and % lines."""
    runs = np.flatnonzero(program.lines_run) + 1
    at = program.program_ends or (int(runs[-1]) if len(runs) else 1)
    for first, behind in program_spans(program.source, program.control).values():
        if first < at <= behind:
            return _first_line(program, first + 1), behind
    last = program.lines
    while last > at and program.text(last).strip() in ("", "%"):
        last -= 1
    return _first_line(program, 1), last


def _first_line(program: Program, first: int) -> int:
    """What runs between the % line and the number belongs to the program as well."""
    while first > 1 and program.lines_run[first - 2] and program.text(first - 1).strip() != "%":
        first -= 1
    return first + 1 if program.text(first).strip() == "%" else first


def _piece(program: Program, span: tuple[int, int], rows: tuple[int, int], number: str) -> Piece:
    if rows[0] == rows[1]:
        raise NotPossible(f"Lines {span[0]} to {span[1]} move nothing: they cannot be a program of their own.")
    if span[0] == _main_span(program)[0]:
        return _proved(program, span, rows, [])
    try:
        return _proved(program, span, rows, _head(program, span, rows[0], number, is_whole=False))
    except NotPossible:
        return _proved(program, span, rows, _head(program, span, rows[0], number, is_whole=True))


def _head(program: Program, span: tuple[int, int], row: int, number: str, *, is_whole: bool) -> list[str]:
    """What must be set before the part. is_whole: spindle and coolant also where the part changes its tool first."""
    modes = program.modes_at(span[0] - 1)
    stated, changes_tool = _before_first_motion(program, span, row)
    whose = program.number or program.name
    said = (f"LINES {span[0]} TO {span[1]}" + (f" OF {whose}" if whose else ""), "BEGIN WITH THE TOOL HOME")
    lines = [number] if number and program.number else []
    lines += [comment for text in said for comment in comment_lines(text, COMMENT_LENGTH)]
    lines += ["G40 G49 G80", *modes_again(program, modes)]
    if modes.cycle_return != program.control.default_cycle_return:
        lines.append(f"G{modes.cycle_return}")
    lines += _tool_again(modes, changes_tool=changes_tool)
    if is_whole or not changes_tool:
        lines += _spindle_again(modes) + coolant_again(program, modes.coolant)
    if "motion" not in stated and modes.motion in ("G0", "G1"):
        lines.append(f"G0{modes.motion[1]}")
    if "F" not in stated and modes.feed_mode == 94 and math.isfinite(modes.feed_mm_min):
        lines.append(f"F{_with_point(modes.feed_mm_min / (1.0 if modes.unit == 'mm' else MM_PER_IN))}")
    return lines


def _before_first_motion(program: Program, span: tuple[int, int], row: int) -> tuple[set[str], bool]:
    """Modal groups and letters that the part states up to its first motion, and whether it changes the tool by then."""
    line_of_first = int(program.motions.line[row])
    until = line_of_first if span[0] <= line_of_first <= span[1] else span[1]
    each = [codes_of(program, line) for line in range(span[0], until + 1)]
    return set().union(*(stated for stated, _ in each)), any(changes for _, changes in each)


def _tool_again(modes: Modes, *, changes_tool: bool) -> list[str]:
    """The tool in the spindle with its length, and the one that was called ahead."""
    waits = [f"T{modes.tool_waiting}"] if modes.tool_waiting and modes.tool_waiting != modes.tool else []
    if changes_tool:
        return waits
    in_spindle = [f"T{modes.tool} M06"] if modes.tool else []
    return in_spindle + waits + ([f"G43 H{modes.length_offset}"] if modes.length_offset else [])


def _spindle_again(modes: Modes) -> list[str]:
    turn = {1: " M03", -1: " M04"}.get(modes.spindle, "")
    return [f"S{plain_number(modes.rpm)}{turn}"] if modes.rpm else []


def _with_point(value: float) -> str:
    written = plain_number(value)
    return written if "." in written else f"{written}."


def _proved(program: Program, span: tuple[int, int], rows: tuple[int, int], head: list[str]) -> Piece:
    lines, stop_gone = _lines(program, span, head)
    line_end = line_end_of(program.source.data).encode()
    data = line_end.join(raw for raw, _ in lines) + line_end
    alone = read(data, control=program.control, name=program.name, tools=program.tools_known)
    prove_piece(program, alone, origin=[line for _, line in lines], rows=rows, stop_gone=stop_gone)
    return Piece(data, *span, rows, tuple(head))


def _lines(program: Program, span: tuple[int, int], head: list[str]) -> tuple[list[tuple[bytes, int]], int]:
    """The lines of a piece, each with the one of the whole that it was (0: new), and the line of a stop that went."""
    first, last = span
    opens, closes = (program.text(line).strip() == "%" for line in (1, program.lines))
    lines = [(b"%", 0)] if opens else []
    lines += [(text.encode("ascii"), 0) for text in head]
    lines += [_raw(program, line) for line in range(first, last + 1)]
    stop_gone = 0
    if last != _main_span(program)[1]:
        stop_gone = _without_stop(program, lines, last)
        lines += [(text.encode("ascii"), 0) for text in _end(program.modes_at(last))]
    for begin, after in called_from(program.source, program.control, first - 1, last):
        lines += [_raw(program, line) for line in range(begin + 1, after + 1)]
    return lines + ([(b"%", 0)] if closes else []), stop_gone


def _raw(program: Program, line: int) -> tuple[bytes, int]:
    source = program.source
    return source.data[source.starts[line - 1] : source.ends[line - 1]], line


def _without_stop(program: Program, lines: list[tuple[bytes, int]], last: int) -> int:
    """A stop where a piece ends goes: started again, it would only end, and with one more start cut all over again."""
    stop = next((stop for stop in program.stops if stop.line == last and stop.kind != "M01"), None)
    if stop is None:
        return 0
    digits = stop.kind.lstrip("M").lstrip("0") or "0"
    word = re.compile(rf"\s*M\s*0*{digits}(?!\d)".encode(), re.IGNORECASE)
    without, count = word.subn(b"", lines[-1][0], count=1)
    if not count:
        raise NotPossible(f"The stop of line {last} ({stop.kind}) is no word that can be taken out.")
    lines[-1] = (without.strip(), last)
    return last


def _end(modes: Modes) -> list[str]:
    return [*(["M09"] if modes.coolant else []), *(["M05"] if modes.spindle else []), "M30"]
