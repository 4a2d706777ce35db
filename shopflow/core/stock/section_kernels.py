"""What numba compiles for level sections through a swept body: rows of discs and the tangents between them.

At one height a body of revolution on a straight move is a disc that goes along and may grow or shrink. Where its radius
is linear in the way gone, the discs together are the hull of the first and the last. A rounded corner on a slope is cut
into stretches over which its radius is nearly linear; that leaves `CHORD_MM` of material at the most and never takes
too much.
"""

from __future__ import annotations

import math

import numpy as np

from shopflow.core.stock.columns import Floats
from shopflow.core.stock.compiled import compiled, compiled_inline
from shopflow.core.stock.row_kernels import disc_ranges
from shopflow.core.stock.sweep_kernels import NOTHING, radius_at

CHORD_MM = 0.002

MOST_DISCS = 40


@compiled
def discs(move: Floats, body: Floats, height: float, out: Floats) -> int:
    """The discs of a section at a height, into out (most, 3): along, across, radius; their number, 0 for none.

    move: start and end, along the columns, across and up. body: as `Body.row`. Neighbours in out belong together.
    """
    dz = move[5] - move[2]
    start = move[2] + body[0]
    flat, radius, curve, top, end = body[1], body[2], body[3], body[4], int(body[5])
    tall = curve if end == 1 else curve * (radius - flat)
    length = body[4] - body[0] if top < np.inf else np.inf
    if dz == 0.0:
        if height < start or height > start + length:
            return 0
        reach = radius_at(height - start, flat, radius, curve, end)
        put(move, 0.0, reach, out, 0)
        put(move, 1.0, reach, out, 1)
        return 2
    here = (height - start) / dz
    over = (height - length - start) / dz if length < np.inf else -np.inf if dz > 0.0 else np.inf
    begin, finish = (max(0.0, over), min(1.0, here)) if dz > 0.0 else (max(0.0, here), min(1.0, over))
    if begin > finish:
        return 0
    full = min(max((height - tall - start) / dz, begin), finish)
    number = 0
    if dz < 0.0:
        number = curved(move, body, height, begin, full, out, number)
        return straight(move, body, height, full, finish, out, number)
    number = straight(move, body, height, begin, full, out, number)
    return curved(move, body, height, full, finish, out, number)


@compiled_inline
def put(move: Floats, share: float, reach: float, out: Floats, number: int) -> None:
    out[number, 0] = move[0] + share * (move[3] - move[0])
    out[number, 1] = move[1] + share * (move[4] - move[1])
    out[number, 2] = reach


@compiled
def straight(move: Floats, body: Floats, height: float, begin: float, finish: float, out: Floats, number: int) -> int:
    """Discs of full radius between two shares of the move; nothing where that is no way."""
    if begin >= finish:
        return number
    put(move, begin, body[2], out, number)
    put(move, finish, body[2], out, number + 1)
    return number + 2


@compiled
def curved(move: Floats, body: Floats, height: float, begin: float, finish: float, out: Floats, number: int) -> int:
    """Discs that grow or shrink between two shares of the move; nothing where that is no way."""
    if begin >= finish:
        return number
    dz, start = move[5] - move[2], move[2] + body[0]
    curve = body[3]
    first, last = max(height - start - begin * dz, 0.0), max(height - start - finish * dz, 0.0)
    pieces = 1
    if body[5] == 1.0:
        low, high = math.acos(max(1.0 - first / curve, -1.0)), math.acos(max(1.0 - last / curve, -1.0))
        pieces = 1 + int(abs(high - low) / (2.0 * math.acos(max(1.0 - CHORD_MM / curve, 0.0))))
        pieces = min(pieces, MOST_DISCS - 6)
    for k in range(pieces + 1):
        if body[5] == 1.0 and 0 < k < pieces:
            above = curve * (1.0 - math.cos(low + (high - low) * k / pieces))
        else:
            above = first + (last - first) * k / pieces
        share = (height - start - above) / dz
        put(move, min(max(share, begin), finish), radius_at(above, body[1], body[2], curve, int(body[5])), out, number)
        number += 1
    return number


@compiled_inline
def tangents(found: Floats, number: int, out: Floats) -> None:
    """Both outer tangents of each disc and its neighbour, into out (number - 1, 2, 4): from along, across to along,
    across.

    Where one disc lies in the other there is none: across of both ends is nan, which no place lies between.
    """
    for k in range(number - 1):
        da, db = found[k + 1, 0] - found[k, 0], found[k + 1, 1] - found[k, 1]
        far = math.sqrt(da * da + db * db)
        less = found[k, 2] - found[k + 1, 2]
        for side in range(2):
            if far <= abs(less) or far == 0.0:
                out[k, side, 1] = out[k, side, 3] = np.nan
                continue
            lean = less / far
            upright = math.sqrt(1.0 - lean * lean) * (1.0 if side == 0 else -1.0)
            na, nb = (lean * da - upright * db) / far, (lean * db + upright * da) / far
            for end in range(2):
                out[k, side, 2 * end] = found[k + end, 0] + found[k + end, 2] * na
                out[k, side, 2 * end + 1] = found[k + end, 1] + found[k + end, 2] * nb


@compiled_inline
def across_range(found: Floats, number: int) -> tuple[float, float]:
    """Lowest and highest place across that the discs cover."""
    low, high = np.inf, -np.inf
    for k in range(number):
        low, high = min(low, found[k, 1] - found[k, 2]), max(high, found[k, 1] + found[k, 2])
    return low, high


@compiled_inline
def ranges(
    found: Floats, number: int, touching: Floats, first: float, step: float, lines: int, near: Floats, far: Floats
) -> None:
    """What the section covers of each of `lines` lines: [near, far] along them; near > far where nothing.

    first: place across of the first line; step: from one to the next.
    """
    for q in range(lines):
        near[q], far[q] = NOTHING, -NOTHING
    k = 0
    while k < number:
        nearer = farther = found[k, 0]
        across, reach = found[k, 1], found[k, 2]
        k += 1
        while k < number and found[k, 1] == across and found[k, 2] == reach:
            nearer, farther = min(nearer, found[k, 0]), max(farther, found[k, 0])
            k += 1
        disc_ranges(nearer, farther, across, reach, first, step, lines, near, far)
    for k in range(number - 1):
        for side in range(2):
            one, two = touching[k, side, 1], touching[k, side, 3]
            if one == two or one != one:
                continue
            slope = (touching[k, side, 2] - touching[k, side, 0]) / (two - one)
            begin = max(int(math.ceil((min(one, two) - first) / step)), 0)
            stop = min(int(math.floor((max(one, two) - first) / step)) + 1, lines)
            for q in range(begin, stop):
                along = touching[k, side, 0] + (first + q * step - one) * slope
                near[q] = min(near[q], along)
                far[q] = max(far[q], along)


def warm() -> None:
    """Compile for the types that a run has."""
    out, touching = np.zeros((MOST_DISCS, 3)), np.zeros((MOST_DISCS, 2, 4))
    number = discs(np.zeros(6), np.array([0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 0.0]), 0.5, out)
    tangents(out, number, touching)
    across_range(out, number)
    ranges(out, number, touching, 0.0, 1.0, 1, np.zeros(1), np.zeros(1))
