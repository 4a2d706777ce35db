"""What numba compiles for material turned by any angle: walking new columns through old ones."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled

HALVINGS = 7
"""Of half a pitch: an end is found to less than a hundredth of the pitch in the old columns."""


@compiled
def runs_through(count: Counts, ends: Ends, a: float, b: float, along: float) -> int:
    """1 where the column at cell (a, b), in cells, has material at a height, mm; 0 outside the grid."""
    i, j = int(np.floor(a)), int(np.floor(b))
    if i < 0 or j < 0 or i >= count.shape[0] or j >= count.shape[1]:
        return 0
    for k in range(count[i, j]):
        if ends[i, j, k, 0] <= along <= ends[i, j, k, 1]:
            return 1
    return 0


@compiled
def is_material(
    count_x: Counts, ends_x: Ends, count_y: Counts, ends_y: Ends, count_z: Counts, ends_z: Ends,
    origin: Floats, pitch: float, x: float, y: float, z: float,
) -> bool:  # fmt: skip
    """Whether most of the three columns nearest to a place have material there."""
    u, v, w = (x - origin[0]) / pitch, (y - origin[1]) / pitch, (z - origin[2]) / pitch
    votes = runs_through(count_x, ends_x, v, w, x) + runs_through(count_y, ends_y, u, w, y)
    return votes + runs_through(count_z, ends_z, u, v, z) >= 2


@compiled
def walk(
    count_x: Counts, ends_x: Ends, count_y: Counts, ends_y: Ends, count_z: Counts, ends_z: Ends,
    origin: Floats, pitch: float, back: Floats, move: Floats, new_origin: Floats, new_shape: NDArray[np.int64],
    axis: int, count: Counts, ends: Ends,
) -> int:  # fmt: skip
    """Fill the new columns along `axis`; the largest number of pieces found (more than fit are not written).

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
                if pieces < ends.shape[2]:
                    ends[i, j, pieces, 0 if now else 1] = 0.5 * (low + high)
                if not now:
                    pieces += 1
                was = now
            count[i, j] = min(pieces, ends.shape[2])
            most = max(most, pieces)
    return most


def warm() -> None:
    """Compile for the types that columns have."""
    one: list[Any] = [np.zeros((1, 1), np.uint8), np.zeros((1, 1, 4, 2), np.float32)]
    three, cells = np.zeros(3), np.ones(3, np.int64)
    settings: list[Any] = [three, 1.0, np.eye(3), three, three, cells, 2]
    walk(*one, *one, *one, *settings, *one)
