"""Material carried from one setup to the next: quarter turns exactly, other angles by sampling anew."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import NotPossible
from shopflow.core.stock import turn_kernels
from shopflow.core.stock.columns import FIRST_CAPACITY, Columns, ColumnSet, with_sets
from shopflow.core.stock.grid import Grid, grid_over, other_axes
from shopflow.core.types import Placement, Vector

Floats = NDArray[np.float64]

_SAME = 1e-9


@dataclass(frozen=True)
class Turned:
    """Material in its new place. error_mm: how far surfaces may have moved by it, 0 for a quarter turn."""

    columns: Columns
    error_mm: float


def placed(columns: Columns, placement: Placement) -> Turned:
    """The material at rotation · point + origin."""
    rotation = np.array(placement.rotation, dtype=np.float64).reshape(3, 3)
    if not np.allclose(rotation @ rotation.T, np.eye(3), atol=1e-6) or np.linalg.det(rotation) < 0.0:
        raise NotPossible("The placement is not a rotation: its three axes must be perpendicular and right-handed.")
    signs = np.rint(rotation)
    if np.abs(rotation - signs).max() < _SAME:
        return Turned(_exchanged(columns, signs.astype(np.int64), placement.origin_mm), 0.0)
    return _sampled(columns, rotation, np.array(placement.origin_mm))


def _exchanged(columns: Columns, signs: NDArray[np.int64], move: Vector) -> Columns:
    """Axes exchanged and turned about: every end keeps its place but for rounding to float32.

    signs: (3, 3) of -1, 0, 1; row = new axis, column = old axis.
    """
    old_of = [int(np.flatnonzero(signs[new])[0]) for new in range(3)]
    sign_of = [int(signs[new, old_of[new]]) for new in range(3)]
    low, high = columns.grid.box
    origin = [
        (low[old] if sign > 0 else -high[old]) + move[new]
        for new, (old, sign) in enumerate(zip(old_of, sign_of, strict=True))
    ]
    shape = [columns.shape[old] for old in old_of]
    grid = Grid((origin[0], origin[1], origin[2]), columns.pitch, (shape[0], shape[1], shape[2]))
    made = {}
    for new in range(3):
        one = columns.sets[old_of[new]]
        if one is not None:
            made[new] = _set_exchanged(one, new, old_of, sign_of, move[new])
    if 2 not in made:
        raise NotPossible("Material kept with its vertical columns alone cannot be turned onto its side.")
    return with_sets(grid, made)


def _set_exchanged(one: ColumnSet, new: int, old_of: list[int], sign_of: list[int], move: float) -> ColumnSet:
    first, second = other_axes(new)
    count, ends = one.count, one.ends.astype(np.float64)
    if old_of[first] > old_of[second]:
        count, ends = count.T, ends.swapaxes(0, 1)
    steps = tuple(slice(None, None, sign_of[axis]) for axis in (first, second))
    count, ends = count[steps], ends[steps]
    if sign_of[new] < 0:
        ends = _reversed(count, ends)
    return ColumnSet(new, np.ascontiguousarray(count), np.ascontiguousarray(ends + move, dtype=np.float32))


def _reversed(count: NDArray[np.uint8], ends: Floats) -> Floats:
    """Intervals of columns that run the other way: negated, and in the opposite order."""
    slots = np.arange(ends.shape[2])
    order = np.where(slots < count[:, :, None], count[:, :, None].astype(np.intp) - 1 - slots, slots)
    turned: Floats = -np.take_along_axis(ends, order[..., None], axis=2)[..., ::-1]
    return turned


def _sampled(columns: Columns, rotation: Floats, move: Floats) -> Turned:
    """Any other angle: new columns walk through the old ones.

    A place counts as material where most of the three old columns nearest to it say so, so that an end is known to half
    the diagonal of a cell; what is thinner than a pitch may be lost.
    """
    if len(columns.kept) < 3:
        raise NotPossible("Material must be kept with all three sets of columns to be turned by such an angle.")
    low, high = (np.array(corner) for corner in columns.grid.box)
    corners = np.array([[(low, high)[bit >> axis & 1][axis] for axis in range(3)] for bit in range(8)])
    seen = corners @ rotation.T + move
    lowest, highest = seen.min(axis=0), seen.max(axis=0)
    grid = grid_over((tuple(lowest.tolist()), tuple(highest.tolist())), columns.pitch)
    sets: tuple[Any, ...] = tuple(part for one in columns.kept for part in (one.count, one.ends))
    made = {axis: _set_sampled(columns, grid, axis, rotation, move, sets) for axis in range(3)}
    return Turned(with_sets(grid, made), columns.grid.across_error_mm)


def _set_sampled(
    columns: Columns, grid: Grid, axis: int, rotation: Floats, move: Floats, sets: tuple[Any, ...]
) -> ColumnSet:
    first, second = other_axes(axis)
    shape = (grid.shape[first], grid.shape[second])
    capacity = FIRST_CAPACITY
    while True:
        made = ColumnSet(axis, np.zeros(shape, np.uint8), np.zeros((*shape, 0, 2), np.float32)).widened(capacity)
        settings: tuple[Any, ...] = (
            np.array(columns.origin), columns.pitch, np.ascontiguousarray(rotation.T), move,
            np.array(grid.origin), np.array(grid.shape), axis,
        )  # fmt: skip
        everything: tuple[Any, ...] = (*sets, *settings, made.count, made.ends)
        most = turn_kernels.walk(*everything)
        if most <= capacity:
            return made
        capacity = most
