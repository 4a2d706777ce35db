"""What numba compiles for replaying moves over few columns: each column that a move changed, in the order of moves."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled
from shopflow.core.stock.vertical_kernels import WIDTH, blank_row, cut, keep_top, span, tops_and_bases

Numbers = NDArray[np.int64]


@compiled
def replay(
    first: int, moves: Floats, move_tool: Numbers, is_rapid: Counts, body_begins: Numbers, bodies: Floats, skin: float,
    count: Counts, ends: Ends, grid: Floats, found: Numbers, lows: Ends, tops_after: Ends,
) -> tuple[int, int, bool]:  # fmt: skip
    """Cut with the moves from `first` on; the move to go on with, how many changes were found, and whether a column had
    no room for a piece more.

    grid: origin x, y, z and pitch. found: (most, 2) move and column (x · ny + y) of each change; lows, tops_after:
    lowest and highest material after it, 1 and 0 where nothing is left. It stops before a move that may find more than
    there is room for.
    """
    nx, ny = count.shape
    tile = np.array([0, nx, 0, ny])
    tops, bases = np.empty((nx, ny), np.float32), np.empty((nx, ny), np.float32)
    old_tops, old_lows = np.empty((nx, ny), np.float32), np.empty((nx, ny), np.float32)
    heights, raised, row = np.empty(ny, np.float32), np.empty(ny), np.zeros(WIDTH)
    move, body = np.zeros(6), np.zeros(7)
    for i in range(nx):
        for j in range(ny):
            tops_and_bases(count, ends, tops, bases, tile, i, j)
    number, k, has_room = 0, first, True
    while k < moves.shape[0] and has_room:
        move[:], body[:] = moves[k], bodies[body_begins[move_tool[k]]]
        if body[6] != 0.0:
            k += 1
            continue
        reach = body[2]
        left, right = min(move[0], move[3]) - reach - grid[0], max(move[0], move[3]) + reach - grid[0]
        near, far = min(move[1], move[4]) - reach - grid[1], max(move[1], move[4]) + reach - grid[1]
        begin, stop = span(left / grid[3], right / grid[3], 0, nx)
        low, high = span(near / grid[3], far / grid[3], 0, ny)
        if number + max(stop - begin, 0) * max(high - low, 0) > found.shape[0]:
            break
        for i in range(begin, stop):
            for j in range(low, high):
                old_tops[i, j], old_lows[i, j] = tops[i, j], ends[i, j, 0, 0]
        blank_row(row)
        shrink = skin if is_rapid[k] else 0.0
        has_room = cut(move, body, shrink, 0.0, count, ends, tops, bases, grid, tile, heights, raised, row)
        for i in range(begin, stop):
            for j in range(low, high):
                if tops[i, j] == old_tops[i, j] and ends[i, j, 0, 0] == old_lows[i, j]:
                    continue
                is_left = count[i, j] > 0
                found[number, 0], found[number, 1] = k, i * ny + j
                lows[number] = ends[i, j, 0, 0] if is_left else 1.0
                tops_after[number] = tops[i, j] if is_left else 0.0
                number += 1
        if has_room:
            k += 1
    for i in range(nx):
        for j in range(ny):
            keep_top(count, ends, tops, i, j)
    return k, number, not has_room


def warm() -> None:
    """Compile for the types that a run has."""
    one, begins = np.zeros(1, np.int64), np.zeros(2, np.int64)
    everything: list[Any] = [0, np.zeros((1, 6)), one, np.zeros(1, np.uint8), begins, np.zeros((1, 7)), 0.0]
    everything += [np.zeros((1, 1), np.uint8), np.zeros((1, 1, 4, 2), np.float32), np.ones(4)]
    everything += [np.zeros((1, 2), np.int64), np.zeros(1, np.float32), np.zeros(1, np.float32)]
    replay(*everything)
