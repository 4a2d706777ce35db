"""Samples of the model's surface: where columns cross it, and how far from there the material really ends.

Each triangle is measured by the set of columns most square to it. The columns' ends are exact, and so is the place
where a column crosses a flat face: the distance along the column times the cosine of its angle to the normal is the
distance along the normal, with no error of the grid in it. The grid only says how close together the samples stand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import compare_kernels
from shopflow.core.stock.columns import Columns, ColumnSet
from shopflow.core.stock.compare_surface import Surface
from shopflow.core.stock.crossings import crossings_of
from shopflow.core.stock.grid import other_axes
from shopflow.core.stock.removal import MOST_CHORD_MM

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

LEAST_SQUARE = 0.3
"""Cosine under which a set of columns does not measure a triangle: with all three sets each is over 0.57."""


@dataclass(frozen=True)
class Samples:
    """n places of the model's surface. points: (n, 3) mm in the setup; normals: (n, 3) out of the material.

    deviation: (n,) mm along the normal: stock left above 0, gouge below; no further than the model's next face.
    triangle, face: (n,). area_mm2: (n,) of the surface that each stands for.
    """

    points: Floats
    normals: Floats
    deviation: Floats
    triangle: Numbers
    face: Numbers
    area_mm2: Floats

    def __len__(self) -> int:
        return len(self.deviation)


def samples_of(columns: Columns, surface: Surface) -> Samples:
    """One sample for every column that crosses a triangle which its set measures; in the order X, Y, Z.

    A square pitch of a face has one sample or more, so that whatever is two pitches wide and long is met. On curved
    faces a distance that is large against the radius is a little too long, by a seventh for a sixth of the radius.
    """
    axes = [one.axis for one in columns.kept]
    best = np.array(axes)[np.abs(surface.normals[:, axes]).argmax(axis=1)]
    parts = [_of_set(columns, one, surface, best == one.axis) for one in columns.kept]
    points, deviation, triangle, square = (np.concatenate(part) for part in zip(*parts, strict=True))
    _look_sideways(columns, surface, points, triangle, deviation)
    return Samples(
        points=points,
        normals=surface.normals[triangle],
        deviation=deviation,
        triangle=triangle,
        face=surface.faces[triangle],
        area_mm2=columns.pitch**2 / square,
    )


def _look_sideways(columns: Columns, surface: Surface, points: Floats, triangle: Numbers, deviation: Floats) -> None:
    """Cut down, in place, what a face is off only because the face beyond its edge is."""
    grid = np.array([*columns.origin, columns.pitch, surface.chord_mm + MOST_CHORD_MM + columns.turned_mm])
    for is_inside in (False, True):
        begins, edges = surface.edges.of_each_face(surface.numbers, surface.edges.is_inside == is_inside)
        rows = np.flatnonzero(deviation > columns.pitch if is_inside else deviation < -columns.pitch)
        if not len(rows) or not len(edges):
            continue
        places, normals, off = points[rows], surface.normals[triangle[rows]], deviation[rows]
        face = np.searchsorted(surface.numbers, surface.faces[triangle[rows]])
        for axis in range(3):
            one = columns.sets[axis]
            kept = columns.sets[2] if one is None else one
            compare_kernels.sideways(
                places, normals, face, off, begins, edges, axis, kept.count, kept.ends, grid, one is not None
            )
        deviation[rows] = off


def _of_set(
    columns: Columns, one: ColumnSet, surface: Surface, best: NDArray[np.bool_]
) -> tuple[Floats, Floats, Numbers, Floats]:
    """Points, deviations, triangles and cosines of the samples of one set."""
    axis, pitch = one.axis, columns.pitch
    first, second = other_axes(axis)
    square = np.abs(surface.normals[:, axis])
    wanted = (best & (square >= LEAST_SQUARE)).astype(np.uint8)
    corners = np.ascontiguousarray(surface.points[:, (first, second, axis)])
    start, size, shift = _lattice(columns, (first, second), corners[surface.triangles.reshape(-1), :2])
    crossed = crossings_of(corners, surface.triangles, axis, start, pitch, size)
    total = len(crossed.heights)
    cells, out = np.zeros((total, 3), np.int64), np.zeros((total, 2))
    number = compare_kernels.measure(
        crossed.begins,
        crossed.found,
        crossed.heights,
        crossed.which,
        wanted,
        square,
        one.count,
        one.ends,
        shift,
        cells,
        out,
    )
    points = np.zeros((number, 3))
    points[:, first] = start[0] + cells[:number, 0] * pitch
    points[:, second] = start[1] + cells[:number, 1] * pitch
    points[:, axis] = out[:number, 0]
    triangle = np.ascontiguousarray(cells[:number, 2])
    return points, np.ascontiguousarray(out[:number, 1]), triangle, square[triangle]


def _lattice(columns: Columns, axes: tuple[int, int], corners: Floats) -> tuple[Floats, tuple[int, int], Numbers]:
    """The grid widened so that it covers the model: middle of its first cell, cells, and cells before the grid."""
    start, size, before = np.zeros(2), [0, 0], np.zeros(2, np.int64)
    for k, axis in enumerate(axes):
        low = columns.origin[axis] + 0.5 * columns.pitch
        first = min(0, int(np.floor((corners[:, k].min() - low) / columns.pitch)))
        last = max(columns.shape[axis] - 1, int(np.ceil((corners[:, k].max() - low) / columns.pitch)))
        start[k], size[k], before[k] = low + first * columns.pitch, last - first + 1, -first
    return start, (size[0], size[1]), before
