"""Material carried from one setup to the next: quarter turns exactly, other angles by sampling anew.

Sampled anew, a face that is square to an axis before the turn keeps its place to a hundredth of the pitch; any other
surface, and every edge, to about a step of the grid, which is the error that is stated.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import NotPossible
from shopflow.core.stock import turn_kernels
from shopflow.core.stock.columns import FIRST_CAPACITY, MOST_CAPACITY, Columns, ColumnSet, with_sets
from shopflow.core.stock.grid import Grid, grid_over, other_axes
from shopflow.core.types import Box, Placement, Vector

Floats = NDArray[np.float64]

_SAME = 1e-9

SLIVERS, MANY_PIECES = (0.5, 1.0, 2.0, 4.0), 24
"""Thickness in pitches under which a piece or a gap is none, tried one after the other while a column would have more
pieces than that (our choice)."""


def placed(columns: Columns, placement: Placement) -> Columns:
    """The material at rotation · point + origin; what a turn by no right angle adds to its error is in `turned_mm`."""
    rotation = np.array(placement.rotation, dtype=np.float64).reshape(3, 3)
    if not np.allclose(rotation @ rotation.T, np.eye(3), atol=1e-6) or np.linalg.det(rotation) < 0.0:
        raise NotPossible("The placement is not a rotation: its three axes must be perpendicular and right-handed.")
    if is_square(placement):
        return _exchanged(columns, np.rint(rotation).astype(np.int64), placement.origin_mm)
    return _sampled(columns, rotation, np.array(placement.origin_mm))


def is_square(placement: Placement) -> bool:
    """Whether axes fall on axes, so that material is turned exactly."""
    rotation = np.array(placement.rotation)
    return bool(np.abs(rotation - np.rint(rotation)).max() < _SAME)


def inverse(placement: Placement) -> Placement:
    """From the setup's coordinates back to the part's."""
    back = np.array(placement.rotation).reshape(3, 3).T
    origin = -(back @ np.array(placement.origin_mm))
    return Placement(tuple(back.reshape(-1).tolist()), (float(origin[0]), float(origin[1]), float(origin[2])))


def carried_back(stock: Columns, begun: Columns, left: Columns, placement: Placement) -> Columns:
    """What a setup leaves, in the part's coordinates.

    stock: what there was before, in the part's coordinates; begun: the same as the setup saw it; left: what it left.
    After a right angle that is `left`, turned back. Otherwise only what the setup took away is turned back and taken
    out of the stock, so that what it did not touch stays exactly where it was, and errors do not add up.
    """
    back = inverse(placement)
    if is_square(placement):
        return placed(left, back)
    skin = 3.0 * (begun.turned_mm - stock.turned_mm)
    gone = with_sets(left.grid, {axis: _lost(begun.along(axis), left.along(axis), skin) for axis in range(3)})
    off = _sampled(gone, np.array(back.rotation).reshape(3, 3), np.array(back.origin_mm), stock.grid)
    made = {axis: _without(stock.along(axis), off.along(axis)) for axis in range(3)}
    return with_sets(stock.grid, made, max(stock.turned_mm, off.turned_mm))


def _lost(before: ColumnSet, after: ColumnSet, beyond: float) -> ColumnSet:
    """What a set lost, made longer by `beyond` into the air at its old ends, where the turn may have left a skin."""
    capacity = before.capacity
    while True:
        shape = (*before.count.shape, capacity, 2)
        made = ColumnSet(before.axis, np.zeros(before.count.shape, np.uint8), np.zeros(shape, np.float32))
        most = turn_kernels.lost(before.count, before.ends, after.count, after.ends, beyond, made.count, made.ends)
        if most <= capacity:
            return made
        capacity = most


def _without(stock: ColumnSet, off: ColumnSet) -> ColumnSet:
    made = ColumnSet(stock.axis, stock.count.copy(), stock.ends.copy())
    while turn_kernels.take_away(made.count, made.ends, off.count, off.ends):
        made = made.widened(2 * made.capacity)  # what was taken out before is taken out again: nothing
    return made


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
    return with_sets(grid, made, columns.turned_mm)


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


def _sampled(columns: Columns, rotation: Floats, move: Floats, grid: Grid | None = None) -> Columns:
    """Any other angle: new columns walk through the old ones, which say what is material (`turn_kernels.is_material`).

    What is thinner than half a pitch is lost. grid: of the new columns, around them where none is given.
    """
    if len(columns.kept) < 3:
        raise NotPossible("Material must be kept with all three sets of columns to be turned by such an angle.")
    grid = grid or grid_over(_box_around(columns.grid.box, rotation, move), columns.pitch)
    made = [_set_sampled(columns, grid, axis, rotation, move) for axis in range(3)]
    error = max(one.error_mm for one in made)
    return with_sets(grid, {one.columns.axis: one.columns for one in made}, columns.turned_mm + error)


def seen_from(columns: Columns, way: Vector) -> tuple[ColumnSet, Grid, Floats]:
    """Columns along any direction, pointing up: the vertical set of the material turned, its grid and the rotation."""
    rotation = _upright(way)
    move = np.zeros(3)
    grid = grid_over(_box_around(columns.grid.box, rotation, move), columns.pitch)
    return _set_sampled(columns, grid, 2, rotation, move).columns, grid, rotation


def _upright(way: Vector) -> Floats:
    """(3, 3) rotation that brings a direction up."""
    up = np.array(way) / np.linalg.norm(way)
    aside = np.eye(3)[int(np.abs(up).argmin())]
    x = np.cross(aside, up)
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(up, x), up])


def _box_around(box: Box, rotation: Floats, move: Floats) -> Box:
    low, high = (np.array(corner) for corner in box)
    corners = np.array([[(low, high)[bit >> axis & 1][axis] for axis in range(3)] for bit in range(8)])
    seen = corners @ rotation.T + move
    lowest, highest = seen.min(axis=0).tolist(), seen.max(axis=0).tolist()
    return (lowest[0], lowest[1], lowest[2]), (highest[0], highest[1], highest[2])


@dataclass(frozen=True)
class _Sampled:
    """New columns along an axis. error_mm: how far their ends may lie from the old surface."""

    columns: ColumnSet
    error_mm: float


def _set_sampled(columns: Columns, grid: Grid, axis: int, rotation: Floats, move: Floats) -> _Sampled:
    """Where a column runs along a surface it may meet very many thin pieces: then those are left out that are thicker.

    An end lies within half the diagonal of a cell of the old surface, and what is left out or filled up reaches half
    its thickness further.
    """
    for sliver in SLIVERS:
        made, most = _walked(columns, grid, axis, rotation, move, sliver * columns.pitch)
        if most <= MANY_PIECES:
            break
    return _Sampled(made, columns.grid.across_error_mm + 0.5 * sliver * columns.pitch)


def _walked(
    columns: Columns, grid: Grid, axis: int, rotation: Floats, move: Floats, sliver_mm: float
) -> tuple[ColumnSet, int]:
    """The set, and the most pieces of a column."""
    sets: tuple[Any, ...] = tuple(part for one in columns.kept for part in (one.count, one.ends))
    shape = tuple(grid.shape[number] for number in other_axes(axis))
    settings: tuple[Any, ...] = (
        np.array(columns.origin), columns.pitch, np.ascontiguousarray(rotation.T), move,
        np.array(grid.origin), np.array(grid.shape), axis, sliver_mm,
    )  # fmt: skip
    capacity = FIRST_CAPACITY
    while True:
        made = ColumnSet(axis, np.zeros(shape, np.uint8), np.zeros((*shape, capacity, 2), np.float32))
        everything: tuple[Any, ...] = (*sets, *settings, made.count, made.ends)
        most = turn_kernels.walk(*everything)
        if most <= capacity or most > MOST_CAPACITY:
            return made, most
        capacity = most
