"""What numba compiles for sharing moves out over tiles, and for adding up what they did there."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled

Numbers = NDArray[np.int64]

HALF_DIAGONAL = 0.7072
"""Of a square, in sides."""


@compiled
def is_over(move: Floats, radius: float, floor: float, top: float, low_x: float, low_y: float, size: float) -> bool:
    """Whether a disc moving along a straight line may come over a square whose material reaches up to `top`."""
    if top <= floor:
        return False
    x, y = low_x + 0.5 * size, low_y + 0.5 * size
    dx, dy = move[3] - move[0], move[4] - move[1]
    squared = dx * dx + dy * dy
    share = 0.0
    if squared > 0.0:
        share = min(max(((x - move[0]) * dx + (y - move[1]) * dy) / squared, 0.0), 1.0)
    away_x, away_y = x - move[0] - share * dx, y - move[1] - share * dy
    reach = radius + HALF_DIAGONAL * size
    return bool(away_x * away_x + away_y * away_y <= reach * reach)


@compiled
def share_out(
    moves: Floats, move_tool: Numbers, is_rapid: Counts, body_begins: Numbers, bodies: Floats, tile_tops: Ends,
    grid: Floats, size: float, ring: float, clearance: float, found: Numbers, pair_move: Numbers, has_room: bool,
) -> int:  # fmt: skip
    """For each tile the moves that may do something in it, in order.

    tile_tops: (a, b) highest material of each tile before these moves, -inf where it is empty. found: (a · b,) int64,
    counted up; with has_room False that is all, else pair_move is filled at found[tile] on. size: mm of a tile's side.
    The number of pairs.
    """
    across = tile_tops.shape[1]
    pairs = 0
    for k in range(moves.shape[0]):
        wide = clearance if is_rapid[k] else 0.0
        lowest = min(moves[k, 2], moves[k, 5])
        begin, end = body_begins[move_tool[k]], body_begins[move_tool[k] + 1]
        reach = 0.0
        for b in range(begin, end):
            reach = max(reach, bodies[b, 2] + max(wide, ring))
        first = max(0, int(np.floor((min(moves[k, 0], moves[k, 3]) - reach - grid[0]) / size)))
        last = min(tile_tops.shape[0] - 1, int(np.floor((max(moves[k, 0], moves[k, 3]) + reach - grid[0]) / size)))
        low = max(0, int(np.floor((min(moves[k, 1], moves[k, 4]) - reach - grid[1]) / size)))
        high = min(across - 1, int(np.floor((max(moves[k, 1], moves[k, 4]) + reach - grid[1]) / size)))
        for ti in range(first, last + 1):
            for tj in range(low, high + 1):
                is_near = False
                for b in range(begin, end):
                    radius = bodies[b, 2] + max(wide, ring)
                    floor = lowest + bodies[b, 0] - wide
                    x, y = grid[0] + ti * size, grid[1] + tj * size
                    if is_over(moves[k], radius, floor, tile_tops[ti, tj], x, y, size):
                        is_near = True
                        break
                if is_near:
                    if has_room:
                        pair_move[found[ti * across + tj]] = k
                    found[ti * across + tj] += 1
                    pairs += 1
    return pairs


@compiled
def share_out_sideways(
    moves: Floats, move_tool: Numbers, body_begins: Numbers, bodies: Floats, tops: Floats, axis: int, grid: Floats,
    size: float, shape: Numbers, found: Numbers, pair_move: Numbers, has_room: bool,
) -> int:  # fmt: skip
    """The same for a set along X (axis 0) or Y (axis 1), whose tiles stand on the other plan axis and Z.

    tops: (moves,) highest material near each move, mm; -inf where it met none. grid: origin across, origin Z. shape:
    (2,) tiles across and up.
    """
    side = 1 - axis
    pairs = 0
    for k in range(moves.shape[0]):
        begin = body_begins[move_tool[k]]
        if tops[k] == -np.inf or bodies[begin, 6] != 0.0:
            continue
        reach, bottom = bodies[begin, 2], min(moves[k, 2], moves[k, 5]) + bodies[begin, 0]
        near, far = min(moves[k, side], moves[k, 3 + side]), max(moves[k, side], moves[k, 3 + side])
        first = max(0, int(np.floor((near - reach - grid[0]) / size)))
        last = min(shape[0] - 1, int(np.floor((far + reach - grid[0]) / size)))
        low = max(0, int(np.floor((bottom - grid[1]) / size)))
        high = min(shape[1] - 1, int(np.floor((tops[k] - grid[1]) / size)))
        for ti in range(first, last + 1):
            for tj in range(low, high + 1):
                if has_room:
                    pair_move[found[ti * shape[1] + tj]] = k
                found[ti * shape[1] + tj] += 1
                pairs += 1
    return pairs


@compiled
def gather(pair_move: Numbers, rows: Floats, into: Floats) -> None:
    """Add up the rows of pairs by move, in the order of pairs: columns as `vertical_kernels` has them."""
    for pair in range(pair_move.shape[0]):
        k = pair_move[pair]
        into[k, 0] += rows[pair, 0]
        into[k, 1] += rows[pair, 1]
        into[k, 10] += rows[pair, 10]
        into[k, 3] = min(into[k, 3], rows[pair, 3])
        into[k, 8] = min(into[k, 8], rows[pair, 8])
        for column in (2, 4, 5, 6, 7, 9):
            into[k, column] = max(into[k, column], rows[pair, column])


def warm() -> None:
    """Compile for the types that a run has."""
    one, begins = np.zeros(1, np.int64), np.zeros(2, np.int64)
    tops = np.zeros((1, 1), np.float32)
    everything: list[Any] = [np.zeros((1, 6)), one, np.zeros(1, np.uint8), begins, np.zeros((1, 7)), tops, np.ones(4)]
    everything += [1.0, 0.0, 0.0, one.copy(), one, False]
    share_out(*everything)
    sideways: list[Any] = [np.zeros((1, 6)), one, begins, np.zeros((1, 7)), np.zeros(1), 0, np.ones(2)]
    sideways += [1.0, np.ones(2, np.int64), one.copy(), one, False]
    share_out_sideways(*sideways)
    gather(one, np.zeros((1, 11)), np.zeros((1, 11)))
