"""What numba compiles for material turned by any angle: walking new columns through old ones."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.column_kernels import take_out
from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled

HALVINGS = 7
"""Of half a pitch: an end is found to less than a hundredth of the pitch in the old columns."""


@compiled
def depth_in(count: Counts, ends: Ends, a: float, b: float, along: float) -> float:
    """How far the column at cell (a, b), in cells, runs through material on from a height to its nearest end, mm.

    Below 0 outside material, by how far the nearest piece is; -inf where the column is empty or outside the grid.
    """
    i, j = int(np.floor(a)), int(np.floor(b))
    nearest = np.inf
    if i < 0 or j < 0 or i >= count.shape[0] or j >= count.shape[1]:
        return -nearest
    for k in range(count[i, j]):
        inside = min(along - ends[i, j, k, 0], ends[i, j, k, 1] - along)
        if inside >= 0.0:
            return float(inside)
        nearest = min(nearest, -inside)
    return -nearest


@compiled
def is_material(
    count_x: Counts, ends_x: Ends, count_y: Counts, ends_y: Ends, count_z: Counts, ends_z: Ends,
    origin: Floats, pitch: float, x: float, y: float, z: float,
) -> bool:  # fmt: skip
    """What the column says whose end is nearest, among the three columns nearest to a place.

    A face that is square to an axis has its ends in the set along that axis, exactly, and far off in the two others.
    Whichever speaks, it speaks of a place that lies half the diagonal of a cell aside at the most.
    """
    u, v, w = (x - origin[0]) / pitch, (y - origin[1]) / pitch, (z - origin[2]) / pitch
    along_x = depth_in(count_x, ends_x, v, w, x)
    along_y = depth_in(count_y, ends_y, u, w, y)
    along_z = depth_in(count_z, ends_z, u, v, z)
    said = along_x if abs(along_x) <= abs(along_y) else along_y
    said = along_z if abs(along_z) <= abs(said) else said
    return bool(said >= 0.0)


@compiled
def put(ends: Ends, i: int, j: int, piece: int, low: float, high: float) -> None:
    """A piece into a column, where it has room."""
    if piece < ends.shape[2]:
        ends[i, j, piece, 0], ends[i, j, piece, 1] = low, high


@compiled
def walk(
    count_x: Counts, ends_x: Ends, count_y: Counts, ends_y: Ends, count_z: Counts, ends_z: Ends,
    origin: Floats, pitch: float, back: Floats, move: Floats, new_origin: Floats, new_shape: NDArray[np.int64],
    axis: int, sliver: float, count: Counts, ends: Ends,
) -> int:  # fmt: skip
    """Fill the new columns along `axis`; the largest number of pieces found (more than fit are not written).

    Along a surface that it hardly crosses a column meets now one old column and now another: pieces and gaps thinner
    than a sliver, mm, are none.

    back: (3, 3) rotation from new to old coordinates. move: (3,) added after the rotation to the new ones.
    """
    first = 1 if axis == 0 else 0
    second = 1 if axis == 2 else 2
    step = 0.5 * pitch
    steps = 2 * new_shape[axis] + 2
    place, old = np.zeros(3), np.zeros(3)
    most = 0
    for i in range(count.shape[0]):
        for j in range(count.shape[1]):
            place[first] = new_origin[first] + (i + 0.5) * pitch - move[first]
            place[second] = new_origin[second] + (j + 0.5) * pitch - move[second]
            pieces = 0
            was = False
            begin = last_begin = last_end = 0.0
            far = new_origin[axis]
            for number in range(steps + 1):
                far = new_origin[axis] + (number - 1) * step
                place[axis] = far - move[axis]
                for k in range(3):
                    old[k] = back[k, 0] * place[0] + back[k, 1] * place[1] + back[k, 2] * place[2]
                now = is_material(
                    count_x, ends_x, count_y, ends_y, count_z, ends_z, origin, pitch, old[0], old[1], old[2]
                )
                if now == was:
                    continue
                low, high = far - step, far
                for _ in range(HALVINGS):
                    middle = 0.5 * (low + high)
                    place[axis] = middle - move[axis]
                    for k in range(3):
                        old[k] = back[k, 0] * place[0] + back[k, 1] * place[1] + back[k, 2] * place[2]
                    there = is_material(
                        count_x, ends_x, count_y, ends_y, count_z, ends_z, origin, pitch, old[0], old[1], old[2]
                    )
                    if there == now:
                        high = middle
                    else:
                        low = middle
                place_of_end = 0.5 * (low + high)
                was = now
                if now and pieces > 0 and place_of_end - last_end < sliver:
                    pieces -= 1
                    begin = last_begin
                elif now:
                    begin = place_of_end
                elif place_of_end - begin >= sliver:
                    put(ends, i, j, pieces, begin, place_of_end)
                    last_begin, last_end = begin, place_of_end
                    pieces += 1
            if was:  # the old material goes on beyond the new grid
                put(ends, i, j, pieces, begin, far)
                pieces += 1
            count[i, j] = min(pieces, ends.shape[2])
            most = max(most, pieces)
    return most


@compiled
def lost(
    count_a: Counts, ends_a: Ends, count_b: Counts, ends_b: Ends, beyond: float, count: Counts, ends: Ends
) -> int:  # fmt: skip
    """What columns of a lost on the way to b; the largest number of pieces (more than fit are not written).

    beyond: mm that a piece is made longer by where it reaches an end that the column had in a: there was air.
    """
    most = 0
    for i in range(count_a.shape[0]):
        for j in range(count_a.shape[1]):
            pieces, at = 0, 0
            reach = -np.inf
            for k in range(count_a[i, j]):
                low, stop = float(ends_a[i, j, k, 0]), float(ends_a[i, j, k, 1])
                begin = low - beyond
                while begin < stop:
                    while at < count_b[i, j] and ends_b[i, j, at, 1] <= max(begin, low):
                        at += 1
                    is_last = at == count_b[i, j] or ends_b[i, j, at, 0] >= stop
                    end = stop + beyond if is_last else float(ends_b[i, j, at, 0])
                    if end > max(begin, low, reach):
                        begin = max(begin, reach)  # what was made longer may have come this far
                        if pieces < ends.shape[2]:
                            ends[i, j, pieces, 0], ends[i, j, pieces, 1] = begin, end
                        reach = end
                        pieces += 1
                    begin = stop if is_last else float(ends_b[i, j, at, 1])
            count[i, j] = min(pieces, ends.shape[2])
            most = max(most, pieces)
    return most


@compiled
def take_away(count: Counts, ends: Ends, count_off: Counts, ends_off: Ends) -> int:
    """Take one material out of another of the same grid; the number of columns that had no room for a piece more."""
    without_room = 0
    for i in range(count.shape[0]):
        for j in range(count.shape[1]):
            for k in range(count_off[i, j]):
                if take_out(count, ends, i, j, ends_off[i, j, k, 0], ends_off[i, j, k, 1]) < 0.0:
                    without_room += 1
    return without_room


def warm() -> None:
    """Compile for the types that columns have."""
    one: list[Any] = [np.zeros((1, 1), np.uint8), np.zeros((1, 1, 4, 2), np.float32)]
    three, cells = np.zeros(3), np.ones(3, np.int64)
    settings: list[Any] = [three, 1.0, np.eye(3), three, three, cells, 2, 0.5]
    walk(*one, *one, *one, *settings, *one)
    both: list[Any] = [*one, *one, 0.0, *one]
    lost(*both)
    take_away(*one, *one)
