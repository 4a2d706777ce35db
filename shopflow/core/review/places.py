"""Ways straight down, and what went down at the same place before: how rules about holes know one hole from another."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shopflow.core.types import MotionKind, Motions, ToolShape

FOLLOWS = frozenset({ToolShape.TAP, ToolShape.REAMER, ToolShape.BORE})
"""Made to go into a hole that is there, whatever the crib says of their middle."""
STRAIGHT_MM = 1e-3
SAME_PLACE_MM = 0.05
"""Two ways straight down nearer than this are of one hole: a program's own rounding is far below it."""


def straight_down(motions: Motions, within_mm: float = STRAIGHT_MM) -> NDArray[np.bool_]:
    """(n,) bool, feeds along a line that goes down and leaves its place by less than `within_mm`."""
    way = motions.end - motions.start
    upright = np.hypot(way[:, 0], way[:, 1]) < within_mm
    down: NDArray[np.bool_] = upright & (way[:, 2] < 0.0) & (motions.kind == MotionKind.FEED)
    return down


def earlier_here(motions: Motions, marked: NDArray[np.bool_], row: int) -> NDArray[np.intp]:
    """Those of the marked rows before `row` that end at its place in its work offset."""
    before = np.flatnonzero(marked[:row] & (motions.work_offset[:row] == motions.work_offset[row]))
    here: NDArray[np.intp] = before[np.hypot(*(motions.end[before, :2] - motions.end[row, :2]).T) < SAME_PLACE_MM]
    return here
