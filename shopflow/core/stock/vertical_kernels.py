"""What numba compiles for the vertical columns: moves swept through the columns of one tile after another.

Tiles know nothing of each other, so that any number of threads can each take some of them. What a move does in a tile
is one row of `out`:

    0 length taken out of all columns, mm    1 columns that lost something      2 deepest cut above the tip, mm
    3, 4 leftmost and rightmost place that lost something, mm across the move   5 highest material near the body, mm
    6 deepest touch of a shank or neck, mm   7 deepest touch of a holder, mm    8 smallest gap at rapid, mm
    9 longest piece taken out of one column, mm                                 10 columns looked at
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.column_kernels import take_out
from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled, compiled_inline
from shopflow.core.stock.row_kernels import goes_under, highest_of, lower_row, lower_tops
from shopflow.core.stock.sweep_kernels import band, gap_to, highest_rim, lowest

Numbers = NDArray[np.int64]

WIDTH = 11
TILE, BLOCK = 64, 8
"""Columns along the side of a tile, which one thread works on, and of a block, whose highest material is kept."""

ENGAGED_MM = 0.005
"""A column that loses less does not count for the width of a cut: what a neighbouring pass left is not a cut."""


@compiled_inline
def frame(move: Floats) -> tuple[float, float, float, float, float, float, float]:
    """Start x, y and height, direction in the plan, length in the plan, and rise per mm; a plunge has length 0.

    A plunge does what its lowest point does, so that it starts there.
    """
    dx, dy, dz = move[3] - move[0], move[4] - move[1], move[5] - move[2]
    length = np.sqrt(dx * dx + dy * dy)
    if length < 1e-9:
        return move[0], move[1], min(move[2], move[5]), 1.0, 0.0, 0.0, 0.0
    return move[0], move[1], move[2], dx / length, dy / length, length, dz / length


@compiled_inline
def span(low: float, high: float, first: int, last: int) -> tuple[int, int]:
    """Cells from first to last (last excluded) whose middles lie in [low, high], given in cells."""
    begin = int(np.ceil(low - 0.5))
    end = int(np.floor(high - 0.5)) + 1
    return max(begin, first), min(end, last)


@compiled
def cut(
    move: Floats, body: Floats, shrink: float, ring: float, count: Counts, ends: Ends, tops: Ends, bases: Ends,
    grid: Floats, tile: Numbers, heights: Ends, raised: Floats, out: Floats,
) -> bool:  # fmt: skip
    """Take a cutter's sweep out of one tile; False where a column had no room for a piece more.

    shrink: mm that the body is made smaller by on every side. ring: mm around the sweep in which the highest material
    is looked for. tops, bases: as `tops_and_bases` says. grid: origin x, y, z and pitch. tile: first and last cell
    (last excluded) in both directions. heights, raised: room for one row.
    """
    x0, y0, z0, ux, uy, length, rise = frame(move)
    bottom, flat, radius, curve, top, end = body[0] + shrink, body[1], body[2] - shrink, body[3], body[4], int(body[5])
    if end == 1 and flat == 0.0:
        curve = radius
    else:
        flat = max(flat - shrink, 0.0)
    tip = z0
    z0 += bottom
    floor = z0 + min(rise * length, 0.0)
    over = z0 + top - body[0] + (abs(move[5] - move[2]) if length == 0.0 else 0.0)
    wide, pitch = radius + ring, grid[3]
    has_room = True
    first, last = span(
        (min(move[0], move[3]) - wide - grid[0]) / pitch, (max(move[0], move[3]) + wide - grid[0]) / pitch,
        tile[0], tile[1],
    )  # fmt: skip
    taken, lost, looked_at = 0.0, 0, 0
    seen, deepest, left, right, thickest = out[5], out[2], out[3], out[4], out[9]
    for i in range(first, last):
        x = grid[0] + (i + 0.5) * pitch
        low_y, high_y = band(x, move[0], move[1], move[3], move[4], wide)
        begin, stop = span((low_y - grid[1]) / pitch, (high_y - grid[1]) / pitch, tile[2], tile[3])
        number = stop - begin
        if number <= 0:
            continue
        looked_at += number
        highest = highest_of(tops, i, begin, number)
        if highest <= floor:
            continue
        seen = max(seen, highest)
        y = grid[1] + (begin + 0.5) * pitch - y0
        u, v, du, dv = ux * (x - x0) + uy * y, ux * y - uy * (x - x0), uy * pitch, ux * pitch
        lower_row(u, v, du, dv, length, z0, rise, flat, radius, curve, end, number, heights, raised)
        if not goes_under(heights, tops, i, begin, number):
            continue
        rest = number
        if top == np.inf:
            gone, pieces, rest, longest, deep, low, high = lower_tops(
                tops, i, begin, bases, i - tile[0], begin - tile[2], heights, raised, number, tip, v, dv, ENGAGED_MM
            )
            taken += gone
            lost += pieces
            thickest, deepest = max(thickest, longest), max(deepest, deep)
            if low <= high:
                left, right = min(left, low), max(right, high)
        if rest == 0:
            continue
        for q in range(number):
            j = begin + q
            if heights[q] >= tops[i, j]:
                continue
            above = np.float64(tops[i, j])
            keep_top(count, ends, tops, i, j)
            if top == np.inf:
                gone = behead(count, ends, i, j, heights[q])
            else:
                rim = over + (highest_rim(u + q * du, v + q * dv, length, rise, radius) if rise != 0.0 else 0.0)
                gone = take_out(count, ends, i, j, heights[q], rim)
                above = min(above, rim)
            tops_and_bases(count, ends, tops, bases, tile, i, j)
            if gone < 0.0:
                has_room = False
            elif gone > 0.0:
                taken += gone
                lost += 1
                thickest, deepest = max(thickest, gone), max(deepest, above - tip - raised[q])
                if gone > ENGAGED_MM:
                    left, right = min(left, v + q * dv), max(right, v + q * dv)
    out[0] += taken
    out[1] += lost
    out[10] += looked_at
    out[2], out[3], out[4], out[5], out[9] = deepest, left, right, seen, thickest
    return has_room


@compiled_inline
def tops_and_bases(count: Counts, ends: Ends, tops: Ends, bases: Ends, tile: Numbers, i: int, j: int) -> None:
    """Both ends of the topmost piece of a column: tops (n, m) of all columns, bases (TILE, TILE) of a tile's; -inf and
    inf where the column is empty.

    While a tile is worked on, tops are what counts: the ends are only brought up to them by `keep_top`.
    """
    pieces = count[i, j]
    tops[i, j] = ends[i, j, pieces - 1, 1] if pieces > 0 else -np.inf
    bases[i - tile[0], j - tile[2]] = ends[i, j, pieces - 1, 0] if pieces > 0 else np.inf


@compiled_inline
def keep_top(count: Counts, ends: Ends, tops: Ends, i: int, j: int) -> None:
    if count[i, j] > 0:
        ends[i, j, count[i, j] - 1, 1] = tops[i, j]


@compiled_inline
def blank_row(out: Floats) -> None:
    """A row of a move that did nothing yet."""
    out[:] = 0.0
    out[3], out[4], out[5], out[8] = np.inf, -np.inf, -np.inf, np.inf


@compiled_inline
def behead(count: Counts, ends: Ends, i: int, j: int, low: float) -> float:
    """Take everything above a height out of a column; the length that went, mm."""
    pieces = count[i, j]
    gone = 0.0
    while pieces > 0 and ends[i, j, pieces - 1, 0] >= low:
        pieces -= 1
        gone += np.float64(ends[i, j, pieces, 1]) - np.float64(ends[i, j, pieces, 0])
    if pieces > 0 and ends[i, j, pieces - 1, 1] > low:
        gone += np.float64(ends[i, j, pieces - 1, 1]) - np.float64(low)
        ends[i, j, pieces - 1, 1] = low
    count[i, j] = pieces
    return gone


@compiled
def touch(
    move: Floats, body: Floats, shrink: float, tops: Ends, block_tops: Ends, grid: Floats, tile: Numbers
) -> float:
    """How deep a body that must not touch goes into material of one tile, mm in height; 0 where it touches none.

    Blocks whose highest material the body passes over are not looked into.
    """
    x0, y0, z0, ux, uy, length, rise = frame(move)
    flat, radius, curve, end = body[1], body[2] - shrink, body[3], int(body[5])
    flat = min(flat, radius)
    z0 += body[0] + shrink
    floor = z0 + min(rise * length, 0.0)
    pitch = grid[3]
    first, last = span(
        (min(move[0], move[3]) - radius - grid[0]) / pitch, (max(move[0], move[3]) + radius - grid[0]) / pitch,
        tile[0], tile[1],
    )  # fmt: skip
    begin, stop = span(
        (min(move[1], move[4]) - radius - grid[1]) / pitch, (max(move[1], move[4]) + radius - grid[1]) / pitch,
        tile[2], tile[3],
    )  # fmt: skip
    deepest = 0.0
    if first >= last or begin >= stop:
        return deepest
    for bi in range(first // BLOCK, (last - 1) // BLOCK + 1):
        for bj in range(begin // BLOCK, (stop - 1) // BLOCK + 1):
            if block_tops[bi, bj] <= floor + deepest:
                continue
            for i in range(max(first, bi * BLOCK), min(last, (bi + 1) * BLOCK)):
                x = grid[0] + (i + 0.5) * pitch
                for j in range(max(begin, bj * BLOCK), min(stop, (bj + 1) * BLOCK)):
                    if tops[i, j] <= floor + deepest:
                        continue
                    y = grid[1] + (j + 0.5) * pitch
                    u, v = ux * (x - x0) + uy * (y - y0), ux * (y - y0) - uy * (x - x0)
                    relative, _ = lowest(u, v, length, rise, flat, radius, curve, end)
                    deepest = max(deepest, tops[i, j] - (z0 + relative))
    return deepest


@compiled
def nearest(move: Floats, body: Floats, within: float, tops: Ends, grid: Floats, tile: Numbers) -> float:
    """Smallest gap between a body, taken as a cylinder, and the material of one tile, mm; inf beyond `within`."""
    x0, y0, z0, ux, uy, length, rise = frame(move)
    radius, z0 = body[2], z0 + body[0]
    floor = z0 + min(rise * length, 0.0) - within
    wide, pitch = radius + within, grid[3]
    first, last = span(
        (min(move[0], move[3]) - wide - grid[0]) / pitch, (max(move[0], move[3]) + wide - grid[0]) / pitch,
        tile[0], tile[1],
    )  # fmt: skip
    smallest = np.inf
    for i in range(first, last):
        x = grid[0] + (i + 0.5) * pitch
        low_y, high_y = band(x, move[0], move[1], move[3], move[4], wide)
        begin, stop = span((low_y - grid[1]) / pitch, (high_y - grid[1]) / pitch, tile[2], tile[3])
        for j in range(begin, stop):
            if tops[i, j] <= floor:
                continue
            top = np.float64(tops[i, j])
            y = grid[1] + (j + 0.5) * pitch
            u, v = ux * (x - x0) + uy * (y - y0), ux * (y - y0) - uy * (x - x0)
            smallest = min(smallest, gap_to(u, v, length, z0, rise, radius, top))
            if smallest == 0.0:
                return smallest
    return smallest if smallest <= within else np.inf


@compiled
def run_tiles(
    tiles: Numbers, tile_begins: Numbers, pair_move: Numbers, done: Numbers, moves: Floats, move_tool: Numbers,
    is_rapid: Counts, body_begins: Numbers, bodies: Floats, count: Counts, ends: Ends, tops: Ends, block_tops: Ends,
    grid: Floats, settings: Floats, out: Floats,
) -> int:  # fmt: skip
    """Run the moves of some tiles in order; the number of tiles that stopped because a column had no room.

    tiles: numbers of tiles, row by row of the tile grid. tile_begins: (tiles + 1,) where each tile's pairs begin in
    pair_move. done: (tiles,) pairs of each tile done before; moved on, a stopped tile goes on there. settings: ring,
    rapid clearance, rapid shrink, mm. out: (pairs, 11).
    """
    across = (count.shape[1] + TILE - 1) // TILE
    tile = np.zeros(4, np.int64)
    bases, heights, raised = np.empty((TILE, TILE), np.float32), np.empty(TILE, np.float32), np.empty(TILE)
    move, body, row = np.zeros(6), np.zeros(7), np.zeros(WIDTH)
    stopped = 0
    for number in tiles:
        tile[0], tile[2] = number // across * TILE, number % across * TILE
        tile[1], tile[3] = min(tile[0] + TILE, count.shape[0]), min(tile[2] + TILE, count.shape[1])
        for i in range(tile[0], tile[1]):
            for j in range(tile[2], tile[3]):
                tops_and_bases(count, ends, tops, bases, tile, i, j)
        begun = pair = tile_begins[number] + done[number]
        while pair < tile_begins[number + 1]:
            k = pair_move[pair]
            move[:], row[:] = moves[k], out[pair]
            shrink = settings[2] if is_rapid[k] else 0.0
            has_room = True
            goes_up = move[5] >= move[2] and move[0] == move[3] and move[1] == move[4]
            for b in range(body_begins[move_tool[k]], body_begins[move_tool[k] + 1]):
                body[:] = bodies[b]
                part = int(body[6])
                if b == body_begins[move_tool[k]] and is_rapid[k] and settings[1] > 0.0 and not goes_up:
                    row[8] = min(row[8], nearest(move, body, settings[1], tops, grid, tile))
                if part == 0:
                    has_room = cut(
                        move, body, shrink, settings[0], count, ends, tops, bases, grid, tile, heights, raised, row
                    )
                else:
                    row[5 + part] = max(row[5 + part], touch(move, body, shrink, tops, block_tops, grid, tile))
            out[pair] = row
            if not has_room:
                stopped += 1
                break
            pair += 1
        done[number] += pair - begun  # once a tile: neighbours in this array are other threads'
        for i in range(tile[0], tile[1]):
            for j in range(tile[2], tile[3]):
                keep_top(count, ends, tops, i, j)
    return stopped


def warm() -> None:
    """Compile for the types that a run has."""
    one, count = np.zeros(1, np.int64), np.zeros((1, 1), np.uint8)
    begins, ends = np.zeros(2, np.int64), np.zeros((1, 1, 4, 2), np.float32)
    tops, bodies = np.zeros((1, 1), np.float32), np.zeros((1, 7))
    everything: list[Any] = [one, begins, one, one.copy(), np.zeros((1, 6)), one, np.zeros(1, np.uint8), begins, bodies]
    everything += [count, ends, tops, tops, np.ones(4), np.zeros(3), np.zeros((1, WIDTH))]
    run_tiles(*everything)
