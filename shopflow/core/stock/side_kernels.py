"""What numba compiles for the columns along X and along Y: moves swept through the columns of one tile after another.

Columns stand on a grid across and up; a move comes as along, across, up. Rows of `out` are as in `vertical_kernels`, of
which these sets fill 0, 1, 9 and 10. Shanks and holders are looked at in the vertical columns alone.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.column_kernels import clip, first_met
from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled, compiled_inline
from shopflow.core.stock.section_kernels import MOST_DISCS, across_range, discs, ranges, tangents
from shopflow.core.stock.vertical_kernels import TILE, WIDTH, span

Numbers = NDArray[np.int64]


@compiled
def sideways(move: Floats, axis: int, body: Floats, shrink: float, out: Floats, small: Floats) -> None:
    """The move as along, across, up into out, the body made smaller into small; a plunge stands at its lowest point."""
    for k in range(2):
        out[3 * k], out[3 * k + 1], out[3 * k + 2] = move[3 * k + axis], move[3 * k + 1 - axis], move[3 * k + 2]
    small[:] = body
    small[0], small[2] = body[0] + shrink, body[2] - shrink
    if body[5] == 1.0 and body[1] == 0.0:
        small[3] = small[2]
    else:
        small[1] = max(body[1] - shrink, 0.0)
    if abs(out[3] - out[0]) < 1e-9 and abs(out[4] - out[1]) < 1e-9:
        small[4] += abs(out[5] - out[2])
        out[2] = out[5] = min(out[2], out[5])


@compiled_inline
def rounded(place: float) -> Any:
    """As columns keep it."""
    return np.float32(place)


@compiled
def cut(
    move: Floats, body: Floats, top: float, count: Counts, ends: Ends, grid: Floats, tile: Numbers, found: Floats,
    touching: Floats, out: Floats,
) -> bool:  # fmt: skip
    """Take a cutter's sweep out of one tile up to a height; False where a column had no room for a piece more.

    grid: origin across, origin up, pitch. Rows in which the section is the same all the way up are done across first.
    """
    pitch = grid[2]
    lowest, highest = min(move[2], move[5]) + body[0], max(move[2], move[5]) + body[0]
    tall = body[3] if body[5] == 1.0 else body[3] * (body[2] - body[1])
    limit = min(top, max(move[2], move[5]) + body[4])
    bottom, stop = span((lowest - grid[1]) / pitch, (limit - grid[1]) / pitch, tile[2], tile[3])
    same_from, same_to = highest + tall, min(move[2], move[5]) + body[4]
    begin, end = span((same_from - grid[1]) / pitch, (min(same_to, limit) - grid[1]) / pitch, bottom, stop)
    has_room = True
    if end > begin:
        number = discs(move, body, max(0.5 * (same_from + min(same_to, limit)), same_from), found)
        has_room = same_rows(count, ends, grid, tile, begin, end, found, number, touching, out)
    else:
        begin = end = stop
    for j in range(bottom, stop):
        if begin <= j < end:
            continue
        number = discs(move, body, grid[1] + (j + 0.5) * pitch, found)
        has_room = same_rows(count, ends, grid, tile, j, j + 1, found, number, touching, out) and has_room
    return has_room


@compiled
def same_rows(
    count: Counts, ends: Ends, grid: Floats, tile: Numbers, begin: int, end: int, found: Floats, number: int,
    touching: Floats, out: Floats,
) -> bool:  # fmt: skip
    """Take one section out of the rows from begin to end (end excluded)."""
    has_room = True
    if number == 0:
        return has_room
    tangents(found, number, touching)
    low, high = across_range(found, number)
    first, last = span((low - grid[0]) / grid[2], (high - grid[0]) / grid[2], tile[0], tile[1])
    if last <= first:
        return has_room
    near, far = np.empty(TILE), np.empty(TILE)
    ranges(found, number, touching, grid[0] + (first + 0.5) * grid[2], grid[2], last - first, near, far)
    taken, lost, thickest = 0.0, 0, out[9]
    for i in range(first, last):
        low, high = rounded(near[i - first]), rounded(far[i - first])
        if low >= high:
            continue
        for j in range(begin, end):
            k = first_met(count, ends, i, j, low, high)
            if k < 0:
                continue
            gone = clip(count, ends, i, j, k, low, high)
            if gone < 0.0:
                has_room = False
                continue
            taken += gone
            lost += 1
            thickest = max(thickest, gone)
    out[0] += taken
    out[1] += lost
    out[9] = thickest
    out[10] += max(last - first, 0) * (end - begin)
    return has_room


@compiled
def run_tiles(
    tiles: Numbers, tile_begins: Numbers, pair_move: Numbers, done: Numbers, moves: Floats, move_tool: Numbers,
    is_rapid: Counts, tops: Floats, body_begins: Numbers, bodies: Floats, axis: int, count: Counts, ends: Ends,
    grid: Floats, shrink: float, out: Floats,
) -> int:  # fmt: skip
    """Run the moves of some tiles in order; the number of tiles that stopped because a column had no room.

    As `vertical_kernels.run_tiles`. tops: (moves,) height up to which each move can meet material.
    """
    up = (count.shape[1] + TILE - 1) // TILE
    tile = np.zeros(4, np.int64)
    move, body = np.zeros(6), np.zeros(7)
    found, touching = np.zeros((MOST_DISCS, 3)), np.zeros((MOST_DISCS, 2, 4))
    stopped = 0
    for number in tiles:
        tile[0], tile[2] = number // up * TILE, number % up * TILE
        tile[1], tile[3] = min(tile[0] + TILE, count.shape[0]), min(tile[2] + TILE, count.shape[1])
        for pair in range(tile_begins[number] + done[number], tile_begins[number + 1]):
            k = pair_move[pair]
            cutter = bodies[body_begins[move_tool[k]]]
            sideways(moves[k], axis, cutter, shrink if is_rapid[k] else 0.0, move, body)
            if not cut(move, body, tops[k], count, ends, grid, tile, found, touching, out[pair]):
                stopped += 1
                break
            done[number] += 1
    return stopped


def warm() -> None:
    """Compile for the types that a run has."""
    one, count = np.zeros(1, np.int64), np.zeros((1, 1), np.uint8)
    begins, ends = np.zeros(2, np.int64), np.zeros((1, 1, 4, 2), np.float32)
    everything: list[Any] = [one, begins, one, one.copy(), np.zeros((1, 6)), one, np.zeros(1, np.uint8), np.zeros(1)]
    everything += [begins, np.zeros((1, 7)), 0, count, ends, np.ones(3), 0.0, np.zeros((1, WIDTH))]
    run_tiles(*everything)
