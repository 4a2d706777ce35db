"""What each motion changes in a thin choice of the vertical columns: enough to draw the stock after any motion.

The columns are some of those that a full run has, cut by the same kernel, so that their ends are the same to the bit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import replay_kernels
from shopflow.core.stock.columns import Columns, ColumnSet
from shopflow.core.stock.moves import Unswept, moves_of, why_unswept
from shopflow.core.stock.removal import Conditions, stretch_mm, tool_table
from shopflow.core.types import Motions, Tool

Floats = NDArray[np.float32]

ROOM = 1 << 19
"""Changes that are looked for at a time."""


@dataclass(frozen=True)
class Changes:
    """In the order of the program, (c,) each: the motion; the column, x · ny + y; lowest and highest material after it,
    1 and 0 where nothing is left."""

    motion: NDArray[np.int64]
    cell: NDArray[np.uint32]
    low: Floats
    top: Floats


class Replay:
    """A thin choice of the vertical columns of a stock, cut motion by motion."""

    def __init__(
        self, columns: Columns, tools: Mapping[int, Tool], conditions: Conditions, *, most_a_side: int
    ) -> None:
        """most_a_side: columns along X and along Y, at the most."""
        grid = columns.grid
        step = max(1, math.ceil(max(grid.shape[:2]) / most_a_side))
        full = columns.along(2)
        count, ends = full.count[::step, ::step], full.ends[::step, ::step]
        self._set = ColumnSet(2, np.array(count, order="C"), np.array(ends, order="C"))  # copies: they are cut in place
        self.pitch = grid.pitch * step
        self.shape = (count.shape[0], count.shape[1])
        self.first = (float(grid.middles(0)[0]), float(grid.middles(1)[0]))
        """Where the first column stands, mm."""
        self._fine = grid.pitch
        self._tools, self._conditions = tools, conditions
        self._table, self._numbers = tool_table(tools)

    @property
    def heights(self) -> tuple[Floats, Floats]:
        """(cells,) lowest and highest material in each column; 1 and 0 where there is none."""
        low, top = (ends.reshape(-1) for ends in self._set.extremes())
        gone = ~np.isfinite(low)
        return np.where(gone, np.float32(1), low), np.where(gone, np.float32(0), top)

    def run(self, motions: Motions, begin: int, end: int) -> Changes:
        """Cut with motions begin to end (end excluded) of the conditions' work offset."""
        rows = np.arange(begin, end)
        conditions = self._conditions
        reasons = why_unswept(motions, conditions.work_offset, frozenset(self._tools))
        swept = rows[reasons[rows] == Unswept.SWEPT]
        stretch = stretch_mm(motions, swept, self._tools, self._fine)
        moves = moves_of(motions, swept, conditions.machine, conditions.chord_for(self._fine), stretch)
        head = (moves.points, self._numbers[motions.tool[moves.motion]], moves.is_rapid)
        half = self.pitch / 2.0
        grid = np.array([self.first[0] - half, self.first[1] - half, 0.0, self.pitch])
        at, parts = 0, list[Changes]()
        room = max(ROOM, int(np.prod(self.shape)))
        while at < len(moves.motion):
            found = np.zeros((room, 2), np.int64)
            lows, tops = np.zeros(room, np.float32), np.zeros(room, np.float32)
            at, number, is_full = replay_kernels.replay(
                at, *head, self._table.begins, self._table.bodies, conditions.rapid_skin_mm, self._set.count,
                self._set.ends, grid, found, lows, tops,
            )  # fmt: skip
            which, cell = moves.motion[found[:number, 0]], found[:number, 1].astype(np.uint32)
            parts.append(Changes(which, cell, lows[:number].copy(), tops[:number].copy()))
            if is_full:
                self._set = self._set.widened(2 * self._set.capacity)
        return _joined(parts)


def _joined(parts: list[Changes]) -> Changes:
    if not parts:
        return Changes(np.zeros(0, np.int64), np.zeros(0, np.uint32), np.zeros(0, np.float32), np.zeros(0, np.float32))
    columns = (np.concatenate([getattr(part, name) for part in parts]) for name in ("motion", "cell", "low", "top"))
    motion, cell, low, top = columns
    return Changes(motion, cell, low, top)
