"""Moves swept through columns, a batch at a time, with the tiles of each set shared out over threads.

A tile is worked on by one thread and takes its moves in order, so that the result does not depend on how many threads
there are. A column that would need more room than its set has stops its tile; the set is then made wider, and the tile
goes on where it stopped.
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import pair_kernels, side_kernels, vertical_kernels
from shopflow.core.stock.columns import Columns, ColumnSet
from shopflow.core.stock.grid import other_axes
from shopflow.core.stock.vertical_kernels import BLOCK, TILE, WIDTH

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

BATCH = 2048
"""Moves that are shared out over tiles together: many enough to keep threads busy, few enough for tops to be fresh."""

_PARTS_A_THREAD = 8


@dataclass(frozen=True)
class Batch:
    """Moves to sweep together. points: (m, 6) mm. tool: (m,) int64, row of the tool table. is_rapid: (m,) uint8."""

    points: Floats
    tool: Numbers
    is_rapid: NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.tool)

    def parts(self, size: int = BATCH) -> Iterator[Batch]:
        for at in range(0, len(self), size):
            rows = slice(at, at + size)
            yield Batch(self.points[rows], self.tool[rows], self.is_rapid[rows])


@dataclass(frozen=True)
class ToolTable:
    """Bodies of all tools. begins: (tools + 1,) int64, first row of each; bodies: (rows, 7) as `profile.Body.row`."""

    begins: Numbers
    bodies: Floats


@dataclass(frozen=True)
class Sweeping:
    """How to sweep, mm. rapid_clearance_mm: gaps at rapid under it are measured, 0 for none. rapid_skin_mm: a rapid
    that would take off less does not count as touching. threads: 0 for one a core.
    """

    rapid_clearance_mm: float = 0.0
    rapid_skin_mm: float = 0.005
    threads: int = 0


@dataclass(frozen=True)
class _Job:
    """Pairs of moves and tiles of one set. begins: (tiles + 1,); done: (tiles,), moved on by work, which takes numbers
    of tiles and gives how many of them stopped for want of room."""

    axis: int
    begins: Numbers
    done: Numbers
    work: Callable[[Numbers], int]

    def shares(self, parts: int) -> list[tuple[int, _Job, Numbers]]:
        """Tiles that have something left, dealt into parts, those with most to do first; how much each part has."""
        left = np.diff(self.begins) - self.done
        tiles = np.flatnonzero(left)
        order = tiles[np.argsort(-left[tiles], kind="stable")]
        dealt = [np.ascontiguousarray(order[part::parts]) for part in range(min(parts, len(order)))]
        return [(int(left[one].sum()), self, one) for one in dealt]


class Sweep:
    """Material being cut. It works on its own copy of the columns it is given."""

    def __init__(self, columns: Columns, tools: ToolTable, how: Sweeping | None = None) -> None:
        self._tools, self._how = tools, how or Sweeping()
        own = columns.copied()
        self._grid, self._turned = own.grid, own.turned_mm
        self._sets: dict[int, ColumnSet] = {one.axis: one for one in own.kept}
        self._tops = np.ascontiguousarray(own.sets[2].extremes()[1])
        self._pool: ThreadPoolExecutor | None = None
        self._threads = self._how.threads or len(os.sched_getaffinity(0))

    @contextmanager
    def working(self) -> Iterator[Sweep]:
        """Threads for the time of the sweep; whoever sweeps is one of them."""
        if self._threads == 1:
            yield self
            return
        with ThreadPoolExecutor(self._threads - 1) as pool:
            self._pool = pool
            try:
                yield self
            finally:
                self._pool = None

    @property
    def columns(self) -> Columns:
        """The material as it is now; a copy."""
        return Columns(self._grid, (self._sets.get(0), self._sets.get(1), self._sets[2]), self._turned).copied()

    def run(self, batch: Batch) -> dict[int, Floats]:
        """Sweep the moves in order; by axis of the set what each did, (m, 11) as in `vertical_kernels`."""
        parts = [self._run_part(part) for part in batch.parts()]
        axes = sorted(self._sets)
        return {axis: np.concatenate([part[axis] for part in parts] or [blank_rows(0)]) for axis in axes}

    def _run_part(self, batch: Batch) -> dict[int, Floats]:
        rows = {2: self.run_vertical(batch)}
        axes = tuple(sorted(self._sets.keys() - {2}))
        return rows | self.run_sideways(batch, axes, rows[2][:, 5] + self._grid.pitch)

    def run_vertical(self, batch: Batch) -> Floats:
        """Sweep a batch through the vertical set alone, (m, 11)."""
        pitch = self._grid.pitch
        blocks = _coarser(self._tops, BLOCK)
        tiles = _coarser(blocks, TILE // BLOCK)
        grid = np.array([*self._grid.origin, pitch])
        head = (batch.points, batch.tool, batch.is_rapid, self._tools.begins, self._tools.bodies)
        clearance = self._how.rapid_clearance_mm
        share = partial(pair_kernels.share_out, *head, tiles, grid, TILE * pitch, pitch, clearance)
        begins, pair_move = _shared_out(share, tiles.size)
        settings = np.array([pitch, clearance, self._how.rapid_skin_mm])
        out, done = blank_rows(len(pair_move)), np.zeros(tiles.size, np.int64)

        def work(numbers: Numbers) -> int:
            one = self._sets[2]
            material = (one.count, one.ends, self._tops, blocks)
            return vertical_kernels.run_tiles(numbers, begins, pair_move, done, *head, *material, grid, settings, out)

        self._share_among_threads([_Job(2, begins, done, work)])
        return _gathered(pair_move, out, len(batch))

    def run_sideways(self, batch: Batch, axes: tuple[int, ...], tops: Floats) -> dict[int, Floats]:
        """Sweep a batch through the sets along X and Y alone; by axis (m, 11).

        tops: (m,) height up to which each move can meet material, as the vertical set saw it before the move. Both sets
        are shared out together: passes beside one another lie in few tiles of the set along them.
        """
        jobs = [self._sideways(batch, axis, tops) for axis in axes]
        self._share_among_threads([job for job, _, _ in jobs])
        return {job.axis: _gathered(pair_move, out, len(batch)) for job, pair_move, out in jobs}

    def _sideways(self, batch: Batch, axis: int, tops: Floats) -> tuple[_Job, Numbers, Floats]:
        """What to do in one set, the move of each pair, and the rows of pairs that it fills."""
        pitch, (first, second) = self._grid.pitch, other_axes(axis)
        shape = np.array([-(-self._grid.shape[number] // TILE) for number in (first, second)])
        grid = np.array([self._grid.origin[first], self._grid.origin[second], pitch])
        tools = (self._tools.begins, self._tools.bodies)
        share = partial(
            pair_kernels.share_out_sideways, batch.points, batch.tool, *tools, tops, axis, grid, TILE * pitch, shape
        )
        begins, pair_move = _shared_out(share, int(shape.prod()))
        out, done = blank_rows(len(pair_move)), np.zeros(int(shape.prod()), np.int64)
        head = (batch.points, batch.tool, batch.is_rapid, tops, *tools, axis)

        def work(numbers: Numbers) -> int:
            one = self._sets[axis]
            return side_kernels.run_tiles(
                numbers, begins, pair_move, done, *head, one.count, one.ends, grid, self._how.rapid_skin_mm, out
            )

        return _Job(axis, begins, done, work), pair_move, out

    def _share_among_threads(self, jobs: list[_Job]) -> None:
        """Let threads work until every tile has done all of its pairs, with sets widened as often as it takes."""
        parts = self._threads * _PARTS_A_THREAD if self._threads > 1 else 1
        while jobs:
            shares = [share for job in jobs for share in job.shares(parts)]
            shares.sort(key=lambda share: -share[0])
            runs = [partial(job.work, tiles) for _, job, tiles in shares]
            stopped = self._all_run(runs)
            full = {job.axis for (_, job, _), tiles in zip(shares, stopped, strict=True) if tiles}
            jobs = [job for job in jobs if job.axis in full]
            for axis in full:
                self._sets[axis] = self._sets[axis].widened(2 * self._sets[axis].capacity)

    def _all_run(self, runs: Sequence[Callable[[], int]]) -> list[int]:
        """What each gave, in their order; this thread and those of the pool each take the next as they are free.

        This thread works too, since it stands on a core already: were it to wait, two others would have to be woken,
        and a kernel that wakes both on one core leaves the other idle for as long as a short batch takes.
        """
        gave, following = [0] * len(runs), itertools.count()

        def take() -> None:
            while (number := next(following)) < len(runs):
                gave[number] = runs[number]()

        helping = [self._pool.submit(take) for _ in range(self._threads - 1)] if self._pool else []
        take()
        for one in helping:
            one.result()
        return gave


def blank_rows(count: int) -> Floats:
    """Rows of moves that did nothing yet."""
    rows = np.zeros((count, WIDTH))
    rows[:, 3], rows[:, 4], rows[:, 5], rows[:, 8] = np.inf, -np.inf, -np.inf, np.inf
    return rows


def _shared_out(share: Callable[[Numbers, Numbers, bool], int], tiles: int) -> tuple[Numbers, Numbers]:
    """Where each tile's pairs begin, (tiles + 1,), and the move of each pair."""
    found = np.zeros(tiles, np.int64)
    pairs = share(found, np.zeros(1, np.int64), False)
    begins = np.concatenate(([0], np.cumsum(found)))
    pair_move = np.zeros(pairs, np.int64)
    share(begins[:-1].copy(), pair_move, True)
    return begins, pair_move


def _coarser(tops: NDArray[np.float32], times: int) -> NDArray[np.float32]:
    """Tops of blocks `times` as wide, those at the far sides narrower."""
    coarse = tops
    for _ in range(2):  # each time along whole rows, which is many times as quick as across them, then turned over
        most = coarse[::times].copy()
        for row in range(1, times):
            following = coarse[row::times]
            np.maximum(most[: len(following)], following, out=most[: len(following)])
        coarse = np.ascontiguousarray(most.T)
    return coarse


def _gathered(pair_move: Numbers, out: Floats, moves: int) -> Floats:
    rows = blank_rows(moves)
    pair_kernels.gather(pair_move, out, rows)
    return rows
