"""Proposed edits: small changes of a program's text, each read again and proved to change nothing else."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from shopflow.core.errors import NotPossible
from shopflow.core.nc.patch import Patch, Patched, apply
from shopflow.core.nc.program import Program
from shopflow.core.nc.word_edits import change_words
from shopflow.core.nc.writing import PutStop, check_copy, stop_block

_DRILL_CODE = re.compile(r"(G\s*0*)(8\s*[12])(?![\d.])", re.IGNORECASE)
_R_NUMBER = re.compile(r"R\s*([+-]?\d*\.?\d*)", re.IGNORECASE)
_COMMENT_BEGINS = re.compile(r"[(;]")
MM_PER_IN = 25.4


@dataclass(frozen=True)
class Edited:
    """An edit carried out. data: the new bytes. after: their reading. lines: of the old text that changed or, for what
    was put in, behind which it stands. saying: what was done, for the person who takes it or leaves it. origin: for
    each line of the new text the line it was before, 0 for a new one (patch.Patched)."""

    data: bytes
    after: Program
    lines: tuple[int, ...]
    saying: str
    origin: tuple[int, ...]

    @classmethod
    def of(cls, patched: Patched, after: Program, lines: Iterable[int], saying: str) -> Edited:
        return cls(patched.data, after, tuple(lines), saying, patched.origin)


def peck(program: Program, line: int, q_mm: float) -> Edited:
    """Turn the plunge cycle (G81, G82) that begins in a line into pecks of q_mm (G83 Q).

    Every hole of the series keeps its place, its R and its depth. Raises NotPossible where the line begins no such
    cycle, or the result would do anything else.
    """
    if q_mm <= 0.0:
        raise NotPossible("A peck must be deeper than zero.")
    cycle = int(program.modes_at(line).motion[1:3] or 0) if program.modes_at(line).motion.startswith("G8") else 0
    text = program.text(line)
    if cycle not in (81, 82) or len(_DRILL_CODE.findall(_code_part(text))) != 1:
        raise NotPossible(f"Line {line} begins no plunge cycle (G81, G82).")
    series = _series(program, line, cycle)
    new_text = _with_peck(text, _number_like(program, text, q_mm, line))
    patched = apply(Patch(replaced={line: new_text}), program.source)
    after = check_copy(program, patched, changed=frozenset(series))
    _check_holes(program, after, series)
    unit = program.modes_at(line).unit
    saying = f"Line {line}: {cycle and f'G{cycle}'} becomes G83 with pecks of {_q_text(new_text)} {unit}."
    return Edited.of(patched, after, (line,), saying)


def peck_depth(program: Program, line: int, q_mm: float) -> Edited:
    """Give the pecks (G73, G83) that begin in a line another depth; the holes stay as they are."""
    if q_mm <= 0.0:
        raise NotPossible("A peck must be deeper than zero.")
    code = program.modes_at(line).motion
    text = program.text(line)
    if code not in ("G73", "G83") or not re.search(r"Q", _code_part(text), re.IGNORECASE):
        raise NotPossible(f"Line {line} has no peck of its own (G73 or G83 with Q).")
    value = q_mm / (1.0 if program.modes_at(line).unit == "mm" else MM_PER_IN)
    new_text = change_words(text, "Q", lambda _: value)
    series = _series(program, line, int(code[1:]))
    patched = apply(Patch(replaced={line: new_text}), program.source)
    after = check_copy(program, patched, changed=frozenset(series))
    _check_holes(program, after, series)
    saying = f"Line {line}: the pecks become {_q_text(new_text)} {program.modes_at(line).unit} deep."
    return Edited.of(patched, after, (line,), saying)


def _code_part(text: str) -> str:
    begin = _COMMENT_BEGINS.search(text)
    return text[: begin.start()] if begin else text


def _series(program: Program, line: int, cycle: int) -> tuple[int, ...]:
    """The lines that drill with this cycle from here on, as long as nothing else moves in between."""
    motions = program.motions
    rows = np.flatnonzero(motions.line == line)
    if not len(rows):
        rows = np.flatnonzero(motions.line > line)[:1]
    end = int(rows[0]) if len(rows) else len(motions)
    begin = end
    while end < len(motions) and motions.cycle[end] == cycle:
        end += 1
    return tuple(dict.fromkeys(motions.line[begin:end].tolist()))


def _with_peck(text: str, q: str) -> str:
    """The line with G83 and Q behind its last word, before any comment; the program's own spacing is kept."""
    code, rest = _code_part(text), text[len(_code_part(text)) :]
    code = _DRILL_CODE.sub(lambda found: f"{found[1]}83", code)
    bare = re.sub(r"\s*P\s*[\d.]+", "", code.rstrip(), flags=re.IGNORECASE)
    blank = " " if " " in bare else ""
    letter = "q" if bare == bare.lower() else "Q"
    return f"{bare}{blank}{letter}{q}{code[len(code.rstrip()) :]}{rest}"


def _q_text(text: str) -> str:
    return re.split(r"[Qq]", _code_part(text))[-1].strip()


def _number_like(program: Program, text: str, value_mm: float, line: int) -> str:
    """A length written as the block writes its R: as many decimals, cut so that it is never longer than asked."""
    per_unit = 1.0 if program.modes_at(line).unit == "mm" else MM_PER_IN
    style = _R_NUMBER.search(_code_part(text))
    decimals = len(style[1].partition(".")[2]) if style else 3
    decimals = max(decimals, 1 if per_unit == 1.0 else 3)
    scale = 10.0**decimals
    written = math.floor(value_mm / per_unit * scale + 1e-9) / scale
    if written <= 0.0:
        raise NotPossible(f"A peck of {value_mm:g} mm cannot be written with {decimals} decimals.")
    return f"{written:.{decimals}f}"


def _check_holes(before: Program, after: Program, series: tuple[int, ...]) -> None:
    """Each line still drills the same holes: the same places, each to the same depth."""
    for line in series:
        if _holes(before, line) != _holes(after, line):
            raise NotPossible(f"The holes of line {line} would not stay the same: nothing was written.")


def _holes(program: Program, line: int) -> list[tuple[float, float, float]]:
    """Place and lowest point of each hole of a line, in order."""
    rows = np.flatnonzero(program.motions.line == line)
    holes: dict[tuple[float, float], float] = {}
    for x, y, z in program.motions.end[rows].tolist():
        holes[x, y] = min(z, holes.get((x, y), math.inf))
    return [(x, y, z) for (x, y), z in holes.items()]


def insert_stop(
    program: Program, after_line: int, message: str, *, kind: str = "M00", comment_length: int = 60
) -> Edited:
    """Put a stop in behind a line where the tool is retracted; spindle and coolant off before, on again after."""
    stop = PutStop(after_line, message, kind)
    patched = apply(Patch(after={after_line: stop_block(program, stop, comment_length)}), program.source)
    after = check_copy(program, patched, stops_added=1)
    return Edited.of(patched, after, (after_line,), f"A stop ({kind}) is put in behind line {after_line}: {message}")


Edit = Callable[[Program], Edited]
"""An edit with its values filled in, as a reviewer takes it or leaves it."""
