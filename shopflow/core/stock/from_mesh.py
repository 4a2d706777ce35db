"""Columns from a closed triangle mesh: a casting, a near-net blank, the finished part."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import Unreadable
from shopflow.core.stock import mesh_kernels
from shopflow.core.stock.columns import FIRST_CAPACITY, MOST_CAPACITY, Columns, ColumnSet, with_sets
from shopflow.core.stock.crossings import crossings_of
from shopflow.core.stock.grid import Grid, other_axes

Floats = NDArray[np.float64]

_SHIFT = 1e-4
"""Pitches that a doubtful column is moved aside by before it is tried again."""


def from_mesh(grid: Grid, points: NDArray[Any], triangles: NDArray[Any]) -> Columns:
    """The material inside a closed mesh.

    points: (p, 3) mm; triangles: (t, 3) point numbers, counter-clockwise seen from outside. Solids that overlap count
    once. An end is exact for the mesh; how far the mesh is from the model is the mesh's chord error. Raises Unreadable
    where the mesh is not closed: where a line through it comes out less often than it went in.
    """
    corners = np.ascontiguousarray(points, dtype=np.float64)
    numbers = _joined(corners, np.ascontiguousarray(triangles, dtype=np.int64))
    if _signed_volume(corners, numbers) < 0.0:
        numbers = np.ascontiguousarray(numbers[:, ::-1])  # a mesh turned inside out still means its solid
    return with_sets(grid, {axis: _set_from(grid, axis, corners, numbers) for axis in range(3)})


def _signed_volume(points: Floats, triangles: NDArray[np.int64]) -> float:
    a, b, c = (points[triangles[:, corner]] for corner in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6.0


def _joined(points: Floats, triangles: NDArray[np.int64]) -> NDArray[np.int64]:
    """Triangles with one number for each place: faces of a model do not share their points along an edge."""
    _, first, inverse = np.unique(points, axis=0, return_index=True, return_inverse=True)
    joined: NDArray[np.int64] = first[inverse.reshape(-1)][triangles].astype(np.int64)
    whole = (joined[:, 0] != joined[:, 1]) & (joined[:, 1] != joined[:, 2]) & (joined[:, 2] != joined[:, 0])
    return np.ascontiguousarray(joined[whole])


def _set_from(grid: Grid, axis: int, points: Floats, triangles: NDArray[np.int64]) -> ColumnSet:
    made, doubtful = _filled(grid, axis, points, triangles, 0.0)
    for shift in (_SHIFT, -_SHIFT):
        if not doubtful.any():
            return made
        again, still = _filled(grid, axis, points, triangles, shift * grid.pitch)
        made = _patched(made, again, doubtful & ~still)
        doubtful &= still
    if doubtful.any():
        raise Unreadable(
            "The model's surface is not closed: lines through it go in and do not come out.",
            where=f"{int(doubtful.sum())} columns along {'XYZ'[axis]}",
            mend="Repair the solid in the program that made it and export it again.",
        )
    return made


def _filled(
    grid: Grid, axis: int, points: Floats, triangles: NDArray[np.int64], shift: float
) -> tuple[ColumnSet, NDArray[np.bool_]]:
    """The set along an axis, and which of its columns are doubtful; the grid moved by shift mm in both directions.

    The order of axes keeps right-handedness, so that the sign of a triangle's area says whether it faces up the column.
    """
    first, second = other_axes(axis)
    turned = np.ascontiguousarray(points[:, (first, second, axis)])
    start = np.array([grid.middles(first)[0], grid.middles(second)[0]]) + shift
    crossed = crossings_of(turned, triangles, axis, start, grid.pitch, (grid.shape[first], grid.shape[second]))
    return _intervals(axis, crossed.begins, crossed.found, crossed.heights)


def _intervals(
    axis: int, begins: NDArray[np.int64], found: NDArray[np.int64], heights: Floats
) -> tuple[ColumnSet, NDArray[np.bool_]]:
    count, doubtful = np.zeros(found.shape, np.uint8), np.zeros(found.shape, np.uint8)
    made = ColumnSet(axis, count, np.zeros((*found.shape, FIRST_CAPACITY, 2), np.float32))
    most = mesh_kernels.fill(begins, found, heights.copy(), made.count, made.ends, doubtful)
    if most > FIRST_CAPACITY:
        made = made.widened(min(most + 1, MOST_CAPACITY) if most <= MOST_CAPACITY else most)
        mesh_kernels.fill(begins, found, heights, made.count, made.ends, doubtful)
    return made, doubtful.astype(np.bool_)


def _patched(made: ColumnSet, other: ColumnSet, which: NDArray[np.bool_]) -> ColumnSet:
    """The set with the chosen columns taken from the other."""
    capacity = max(made.capacity, other.capacity)
    one, two = made.widened(capacity), other.widened(capacity)
    count = np.where(which, two.count, one.count)
    return ColumnSet(made.axis, count, np.where(which[:, :, None, None], two.ends, one.ends))
