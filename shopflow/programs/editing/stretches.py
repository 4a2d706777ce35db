"""Which lines can go together with a run that cuts nothing, judged from the motions before any of them is tried."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from shopflow.core.nc import Program
from shopflow.core.types import MotionKind

MOST_RAPIDS = 5
"""How many rapids before and behind the run may go with it."""


def pieces_around(program: Program, first: int, last: int) -> Iterator[tuple[int, int]]:
    """First and last lines of stretches that hold the run, the longest first, behind which the program states each axis
    that the stretch moved, and which end no higher than they begin. Also without the run's first line, which may set
    what is used later (a G1, an F).
    """
    motions = program.motions
    inside = np.flatnonzero((motions.line >= first) & (motions.line <= last))
    if not len(inside):
        return
    begin, end = int(inside[0]), int(inside[-1])
    starts = [first, first + 1, *_rapid_lines(program, begin - 1, -1)]
    ends = [last, *_rapid_lines(program, end + 1, 1)]
    spans = [(start, stop) for start in starts for stop in ends if start <= stop and _can_go(program, start, stop)]
    yield from sorted(spans, key=lambda span: span[0] - span[1])


def _rapid_lines(program: Program, row: int, step: int) -> list[int]:
    """The lines of the rapids next to a run, away from it."""
    motions = program.motions
    lines: list[int] = []
    while 0 <= row < len(motions) and motions.kind[row] == MotionKind.RAPID and len(lines) < MOST_RAPIDS:
        lines.append(int(motions.line[row]))
        row += step
    return lines


def _can_go(program: Program, first: int, last: int) -> bool:
    """Whether the next line that moves states each axis that would stand elsewhere without these lines, and starts no
    lower than with them."""
    motions = program.motions
    rows = np.flatnonzero((motions.line >= first) & (motions.line <= last))
    if not len(rows) or rows[-1] + 1 >= len(motions):
        return False
    before, after = motions.start[rows[0]], motions.end[rows[-1]]
    if not before[2] >= after[2]:
        return False
    text = program.text(int(motions.line[rows[-1] + 1]))
    return all(_states(text, axis) for axis, moved in zip("XYZ", before != after, strict=True) if moved)


def _states(text: str, axis: str) -> bool:
    return re.search(rf"(?<![A-Za-z]){axis}\s*[-+.\d#\[]", text, re.IGNORECASE) is not None
