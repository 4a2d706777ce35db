"""What numba compiles for the columns along X and along Y: moves swept through the columns of one tile after another.

Columns stand on a grid across and up; a move comes as along, across, up. Rows of `out` are as in `vertical_kernels`, of
which these sets fill 0, 1, 9 and 10. Shanks and holders are looked at in the vertical columns alone.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.column_kernels import take_out
from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled, compiled_inline
from shopflow.core.stock.row_kernels import ball_ranges, meets_any, nowhere, rounded, widen_gaps
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


@compiled
def cut(
    move: Floats, body: Floats, top: float, count: Counts, ends: Ends, gaps: Ends, after: Counts, grid: Floats,
    tile: Numbers, found: Floats, touching: Floats, near: Floats, far: Floats, low: Ends, high: Ends, out: Floats,
) -> bool:  # fmt: skip
    """Take a cutter's sweep out of one tile up to a height; False where a column had no room for a piece more.

    grid: origin across, origin up, pitch. gaps: (4, TILE, TILE) by row and column, from where to where a column of the
    tile is known to be empty, where the piece before this gap begins, and where the piece after it ends; the first of
    them above the second where no gap is known. after: the number of the piece after it. While a tile is worked on
    these are what counts: most columns under a sweep lose nothing, or at the ends of their gap, which is seen and done
    for many at once. found, touching, near, far, low, high: room for one section.
    """
    pitch = grid[2]
    lowest, highest = min(move[2], move[5]) + body[0], max(move[2], move[5]) + body[0]
    tall = body[3] if body[5] == 1.0 else body[3] * (body[2] - body[1])
    limit = min(top, max(move[2], move[5]) + body[4])
    bottom, stop = span((lowest - grid[1]) / pitch, (limit - grid[1]) / pitch, tile[2], tile[3])
    same_from, same_to = highest + tall, min(move[2], move[5]) + body[4]
    begin, end = span((same_from - grid[1]) / pitch, (min(same_to, limit) - grid[1]) / pitch, bottom, stop)
    is_ball = body[5] == 1.0 and body[1] == 0.0
    has_room = True
    taken, lost, looked_at, thickest = 0.0, 0, 0, out[9]
    first = last = tile[0]
    for j in range(bottom, stop):
        if not begin < j < end:  # between these the section is the one of the row below
            height = grid[1] + (j + 0.5) * pitch
            if is_ball:
                first, last = ball_row(move, body, height, grid, tile, near, far, low, high)
            else:
                first, last = other_row(move, body, height, grid, tile, found, touching, near, far, low, high)
        lines, at, aside = last - first, j - tile[2], first - tile[0]
        looked_at += max(lines, 0)
        if lines <= 0 or not meets_any(low, high, gaps, at, aside, lines):
            continue
        gone, pieces, rest, longest = widen_gaps(low, high, gaps, at, aside, lines)
        taken += gone
        lost += pieces
        thickest = max(thickest, longest)
        if rest == 0:
            continue
        for q in range(lines):
            is_empty = low[q] >= gaps[0, at, aside + q] and high[q] <= gaps[1, at, aside + q]
            if is_empty or low[q] >= high[q]:
                continue
            keep_gap(count, ends, gaps, after, at, aside + q, first + q, j)
            gone = take_out(count, ends, first + q, j, low[q], high[q])
            look_up(count, ends, gaps, after, at, aside + q, first + q, j, low[q])
            if gone < 0.0:
                has_room = False
            elif gone > 0.0:
                taken += gone
                lost += 1
                thickest = max(thickest, gone)
    out[0] += taken
    out[1] += lost
    out[9] = thickest
    out[10] += looked_at
    return has_room


@compiled_inline
def ball_row(
    move: Floats, body: Floats, height: float, grid: Floats, tile: Numbers, near: Floats, far: Floats, low: Ends,
    high: Ends,
) -> tuple[int, int]:  # fmt: skip
    """What a ball end takes of a row of columns, into low and high; the first and the last column (last excluded).

    The lower half of the ball and the round shaft over it are each taken over the share of the move in which the row
    goes through them.
    """
    radius, dz = body[2], move[5] - move[2]
    above = height - (move[2] + body[0] + radius)
    ball_from, ball_to, shaft_from, shaft_to = ball_shares(above, dz, height - body[4] - move[2])
    left, right = np.inf, -np.inf
    if ball_from <= ball_to:
        apart = max(min(ball_from * dz, ball_to * dz) - above, 0.0)
        one, two = move[1] + ball_from * (move[4] - move[1]), move[1] + ball_to * (move[4] - move[1])
        reach = np.sqrt(max(radius * radius - apart * apart, 0.0))
        left, right = min(one, two) - reach, max(one, two) + reach
    if shaft_from <= shaft_to:
        one, two = move[1] + shaft_from * (move[4] - move[1]), move[1] + shaft_to * (move[4] - move[1])
        left, right = min(left, min(one, two) - radius), max(right, max(one, two) + radius)
    first, last = span((left - grid[0]) / grid[2], (right - grid[0]) / grid[2], tile[0], tile[1])
    lines = last - first
    if lines <= 0:
        return first, first
    nowhere(near, far, lines)
    place = grid[0] + (first + 0.5) * grid[2] - move[1]
    da, db = move[3] - move[0], move[4] - move[1]
    if ball_from <= ball_to:
        ball_ranges(move[0], da, db, above, dz, ball_from, ball_to, radius, place, grid[2], lines, near, far)
    if shaft_from <= shaft_to:
        ball_ranges(move[0], da, db, 0.0, 0.0, shaft_from, shaft_to, radius, place, grid[2], lines, near, far)
    rounded(near, far, lines, low, high)
    return first, last


@compiled_inline
def ball_shares(above: float, dz: float, over: float) -> tuple[float, float, float, float]:
    """From which to which share of a move a row goes through the lower half of a ball, and through its shaft; from
    above to where it never does.

    above: height of the row over the ball's middle at the start. over: over the shaft's top at the start.
    """
    if dz == 0.0:
        return (1.0, 0.0, 0.0, 1.0) if above > 0.0 else (0.0, 1.0, 1.0, 0.0)
    level, out = above / dz, over / dz
    if dz > 0.0:
        return max(max(level, out), 0.0), 1.0, max(out, 0.0), min(level, 1.0)
    return 0.0, min(min(level, out), 1.0), max(level, 0.0), min(out, 1.0)


@compiled
def other_row(
    move: Floats, body: Floats, height: float, grid: Floats, tile: Numbers, found: Floats, touching: Floats,
    near: Floats, far: Floats, low: Ends, high: Ends,
) -> tuple[int, int]:  # fmt: skip
    """As `ball_row` for any lower end, its section taken as discs and the tangents between them."""
    number = discs(move, body, height, found)
    if number == 0:
        return tile[0], tile[0]
    tangents(found, number, touching)
    left, right = across_range(found, number)
    first, last = span((left - grid[0]) / grid[2], (right - grid[0]) / grid[2], tile[0], tile[1])
    lines = last - first
    if lines <= 0:
        return first, first
    ranges(found, number, touching, grid[0] + (first + 0.5) * grid[2], grid[2], lines, near, far)
    rounded(near, far, lines, low, high)
    return first, last


@compiled_inline
def look_up(
    count: Counts, ends: Ends, gaps: Ends, after: Counts, at: int, aside: int, i: int, j: int, place: float
) -> None:  # fmt: skip
    """What is known of the gap that a place lies in."""
    k = 0
    while k < count[i, j] and ends[i, j, k, 1] <= place:
        k += 1
    after[at, aside] = k
    gaps[0, at, aside] = ends[i, j, k - 1, 1] if k > 0 else -np.inf
    gaps[2, at, aside] = ends[i, j, k - 1, 0] if k > 0 else -np.inf
    gaps[1, at, aside] = ends[i, j, k, 0] if k < count[i, j] else np.inf
    gaps[3, at, aside] = ends[i, j, k, 1] if k < count[i, j] else np.inf


@compiled_inline
def keep_gap(count: Counts, ends: Ends, gaps: Ends, after: Counts, at: int, aside: int, i: int, j: int) -> None:
    """Bring the ends of a column up to what is known of its gap."""
    if gaps[0, at, aside] > gaps[1, at, aside]:
        return
    k = after[at, aside]
    if k > 0:
        ends[i, j, k - 1, 1] = gaps[0, at, aside]
    if k < count[i, j]:
        ends[i, j, k, 0] = gaps[1, at, aside]


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
    gaps, after = np.empty((4, TILE, TILE), np.float32), np.zeros((TILE, TILE), np.uint8)
    near, far = np.empty(TILE), np.empty(TILE)
    low, high, row = np.empty(TILE, np.float32), np.empty(TILE, np.float32), np.zeros(WIDTH)
    way, cutter = np.zeros(6), np.zeros(7)
    stopped = 0
    for number in tiles:
        tile[0], tile[2] = number // up * TILE, number % up * TILE
        tile[1], tile[3] = min(tile[0] + TILE, count.shape[0]), min(tile[2] + TILE, count.shape[1])
        gaps[0], gaps[1], gaps[2], gaps[3] = np.inf, -np.inf, np.inf, -np.inf
        begun = pair = tile_begins[number] + done[number]
        while pair < tile_begins[number + 1]:
            k = pair_move[pair]
            way[:], cutter[:], row[:] = moves[k], bodies[body_begins[move_tool[k]]], out[pair]
            sideways(way, axis, cutter, shrink if is_rapid[k] else 0.0, move, body)
            has_room = cut(
                move, body, tops[k], count, ends, gaps, after, grid, tile, found, touching, near, far, low, high, row
            )
            out[pair] = row
            if not has_room:
                stopped += 1
                break
            pair += 1
        done[number] += pair - begun  # once a tile: neighbours in this array are other threads'
        for i in range(tile[0], tile[1]):
            for j in range(tile[2], tile[3]):
                keep_gap(count, ends, gaps, after, j - tile[2], i - tile[0], i, j)
    return stopped


def warm() -> None:
    """Compile for the types that a run has."""
    one, count = np.zeros(1, np.int64), np.zeros((1, 1), np.uint8)
    begins, ends = np.zeros(2, np.int64), np.zeros((1, 1, 4, 2), np.float32)
    everything: list[Any] = [one, begins, one, one.copy(), np.zeros((1, 6)), one, np.zeros(1, np.uint8), np.zeros(1)]
    everything += [begins, np.zeros((1, 7)), 0, count, ends, np.ones(3), 0.0, np.zeros((1, WIDTH))]
    run_tiles(*everything)
