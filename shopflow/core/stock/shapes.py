"""Blanks of simple shapes as columns: box, round, plate with holes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import column_kernels
from shopflow.core.stock.columns import Columns, ColumnSet, cell_middles, set_of, with_sets
from shopflow.core.stock.grid import Grid, other_axes
from shopflow.core.types import Box

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Hole:
    """A straight hole through everything, along an axis (0 X, 1 Y, 2 Z).

    at: place of its middle in the two other axes, the lower first, mm.
    """

    axis: int
    at: tuple[float, float]
    diameter_mm: float


def box(grid: Grid, solid: Box) -> Columns:
    """A box of material, lowest and highest corner, mm."""
    made = {}
    for axis in range(3):
        first, second = other_axes(axis)
        a, b = cell_middles(grid, axis)
        inside = _between(a, solid, first) & _between(b, solid, second)
        made[axis] = set_of(axis, np.where(inside, solid[0][axis], 0.0), np.where(inside, solid[1][axis], 0.0))
    return with_sets(grid, made)


def round_bar(
    grid: Grid, at: tuple[float, float], diameter_mm: float, ends: tuple[float, float], axis: int = 2
) -> Columns:
    """A round of material. at: its middle in the two other axes, the lower first; ends: along its axis, mm."""
    low, high = _in_cylinder(grid, axis, at, diameter_mm / 2.0, ends)
    return with_sets(grid, {number: set_of(number, low[number], high[number]) for number in range(3)})


def plate(grid: Grid, solid: Box, holes: Iterable[Hole] = ()) -> Columns:
    """A box with holes through it."""
    found = box(grid, solid)
    for hole in holes:
        found = drilled(found, hole)
    return found


def drilled(columns: Columns, hole: Hole) -> Columns:
    """The material with a hole through it."""
    bounds = (columns.grid.box[0][hole.axis] - 1.0, columns.grid.box[1][hole.axis] + 1.0)
    low, high = _in_cylinder(columns.grid, hole.axis, hole.at, hole.diameter_mm / 2.0, bounds)
    made = {one.axis: without(one, low[one.axis], high[one.axis]) for one in columns.kept}
    return with_sets(columns.grid, made, columns.turned_mm)


def without(columns: ColumnSet, low: Floats, high: Floats) -> ColumnSet:
    """The set with (low, high) mm, (n, m), taken out of each column; grows where a column has no room."""
    while True:
        count, ends = columns.count.copy(), columns.ends.copy()
        if not column_kernels.take_out_all(count, ends, low, high):
            return ColumnSet(columns.axis, count, ends)
        columns = columns.widened(2 * columns.capacity)


def _between(values: Floats, solid: Box, axis: int) -> NDArray[np.bool_]:
    inside: NDArray[np.bool_] = (values > solid[0][axis]) & (values < solid[1][axis])
    return inside


def _in_cylinder(
    grid: Grid, axis: int, at: tuple[float, float], radius: float, ends: tuple[float, float]
) -> tuple[dict[int, Floats], dict[int, Floats]]:
    """Where the columns of each set run inside a cylinder: low and high ends by axis, high = low outside."""
    first, second = other_axes(axis)
    place = {first: at[0], second: at[1], axis: 0.0}
    low, high = {}, {}
    for number in range(3):
        shape = tuple(grid.shape[other] for other in other_axes(number))
        values = dict(zip(other_axes(number), cell_middles(grid, number), strict=True))
        if number == axis:
            inside = (values[first] - at[0]) ** 2 + (values[second] - at[1]) ** 2 < radius**2
            low[number], high[number] = np.where(inside, ends[0], 0.0), np.where(inside, ends[1], 0.0)
            continue
        across = first if number == second else second
        squared = radius**2 - (values[across] - place[across]) ** 2
        half = np.sqrt(np.maximum(squared, 0.0)) * ((values[axis] > ends[0]) & (values[axis] < ends[1]))
        half = np.broadcast_to(half, shape)
        low[number], high[number] = place[number] - half, place[number] + half
    return low, high
