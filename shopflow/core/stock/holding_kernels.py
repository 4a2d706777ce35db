"""What numba compiles for workholding: swept bodies against boxes that must not be touched."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.columns import Counts, Floats
from shopflow.core.stock.compiled import compiled, compiled_inline
from shopflow.core.stock.sweep_kernels import radius_at

Numbers = NDArray[np.int64]

STEPS = 60
"""Of the search for the nearest place along a move: leaves (2/3)^60 of it."""


@compiled_inline
def beside(x: float, y: float, box: Floats) -> float:
    """Distance in the plan from a place to a box: low x y z, high x y z."""
    away_x = max(max(box[0] - x, x - box[3]), 0.0)
    away_y = max(max(box[1] - y, y - box[4]), 0.0)
    return math.sqrt(away_x * away_x + away_y * away_y)


@compiled
def room(move: Floats, body: Floats, box: Floats, share: float, as_cylinder: bool) -> float:
    """Room between body and box at a share of a move, mm. Both functions are convex in the share.

    as_cylinder: distance from the box to a cylinder as wide and as high as the body, never below 0. Otherwise the room
    in the plan at the height of the box's upper edge, below 0 where they overlap; while the body is above the box its
    height over it.
    """
    x, y = move[0] + share * (move[3] - move[0]), move[1] + share * (move[4] - move[1])
    z = move[2] + share * (move[5] - move[2])
    height = z + body[0] - box[5]
    level = beside(x, y, box)
    if as_cylinder:
        under = box[2] - z - body[4]  # -inf for what reaches up without end
        return math.hypot(max(level - body[2], 0.0), max(height, under, 0.0))
    if height >= 0.0:
        return float(level + height)
    radius: float = radius_at(-height, body[1], body[2], body[3], int(body[5]))
    return float(level - radius)


@compiled
def least_room(move: Floats, body: Floats, box: Floats, as_cylinder: bool) -> float:
    """The least room along a move."""
    low, high = 0.0, 1.0
    if not as_cylinder and body[4] < np.inf:
        # What ends above, as an undercut cutter does, may go by under a box that overhangs.
        under = box[2] - body[4]
        if max(move[2], move[5]) <= under:
            return np.inf
        if min(move[2], move[5]) < under:
            comes_up = (under - move[2]) / (move[5] - move[2])
            low, high = (comes_up, 1.0) if move[5] > move[2] else (0.0, comes_up)
    if not as_cylinder and move[5] != move[2]:
        touches = min(max((box[5] - body[0] - move[2]) / (move[5] - move[2]), 0.0), 1.0)
        low, high = (max(low, touches), high) if move[5] < move[2] else (low, min(high, touches))
        if low > high:
            return np.inf
    for _ in range(STEPS):
        one, two = low + (high - low) / 3.0, high - (high - low) / 3.0
        if room(move, body, box, one, as_cylinder) <= room(move, body, box, two, as_cylinder):
            high = two
        else:
            low = one
    return room(move, body, box, 0.5 * (low + high), as_cylinder)


@compiled
def is_far(move: Floats, body: Floats, box: Floats, within: float) -> bool:
    """Whether the boxes around move and body keep more than `within` away from the box."""
    wide = body[2] + within
    if min(move[2], move[5]) + body[0] > box[5] + within or max(move[2], move[5]) + body[4] < box[2] - within:
        return True
    if min(move[0], move[3]) - wide > box[3] or max(move[0], move[3]) + wide < box[0]:
        return True
    return bool(min(move[1], move[4]) - wide > box[4] or max(move[1], move[4]) + wide < box[1])


@compiled
def against_boxes(
    moves: Floats, move_tool: Numbers, is_rapid: Counts, body_begins: Numbers, bodies: Floats, boxes: Floats,
    within: float, depth: Floats, which: Numbers, gap: Floats,
) -> None:  # fmt: skip
    """How each move stands to boxes (b, 6) that must not be touched.

    depth: (m,) largest overlap in the plan, mm, 0 where none; which: (m,) the box of it, -1 none. gap: (m,) smallest
    distance of a rapid, mm, inf beyond `within`.
    """
    for k in range(moves.shape[0]):
        goes_up = moves[k, 5] >= moves[k, 2] and moves[k, 0] == moves[k, 3] and moves[k, 1] == moves[k, 4]
        for b in range(body_begins[move_tool[k]], body_begins[move_tool[k] + 1]):
            for one in range(boxes.shape[0]):
                near = within if is_rapid[k] and not goes_up else 0.0
                if is_far(moves[k], bodies[b], boxes[one], near):
                    continue
                overlap = -least_room(moves[k], bodies[b], boxes[one], False)
                if overlap > depth[k]:
                    depth[k] = overlap
                    which[k] = one
                if near > 0.0:
                    distance = least_room(moves[k], bodies[b], boxes[one], True)
                    if distance <= near:
                        gap[k] = min(gap[k], distance)


def warm() -> None:
    """Compile for the types that a run has."""
    one, begins = np.zeros(1, np.int64), np.zeros(2, np.int64)
    everything: list[Any] = [np.zeros((1, 6)), one, np.zeros(1, np.uint8), begins, np.zeros((1, 7)), np.zeros((1, 6))]
    everything += [0.0, np.zeros(1), one.copy(), np.zeros(1)]
    against_boxes(*everything)
