"""Deviation for the picture: one number for each point of a mesh that is fine enough to be coloured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shopflow.core.solid import Mesh
from shopflow.core.stock import compare_kernels
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.compare_samples import Samples, samples_of
from shopflow.core.stock.compare_surface import Surface
from shopflow.core.types import Placement

Floats = NDArray[np.float64]

MOST_TRIANGLES = 400_000
"""A finer mesh is no better picture and a slower page (our choice)."""


def refined(mesh: Mesh, longest_mm: float, *, most: int = MOST_TRIANGLES) -> Mesh:
    """The mesh with every side of a triangle longer than this cut in half until none is, or `most` would be passed.

    A side is cut or not by its length alone, so that neighbours still meet. Faces keep their numbers.
    """
    points, triangles, faces = mesh.points, mesh.triangles.astype(np.int64), mesh.faces
    while True:
        sides = triangles[:, [[0, 1], [1, 2], [2, 0]]]
        long = np.linalg.norm(points[sides[..., 0]] - points[sides[..., 1]], axis=2) > longest_mm
        if not long.any() or len(triangles) + int(long.sum()) > most:
            return replace(mesh, points=points, triangles=triangles.astype(np.uint32), faces=faces)
        points, middle = _with_middles(points, sides, long)
        triangles, of = _split(triangles, middle)
        faces = faces[of]


def deviation_of_vertices(columns: Columns, mesh: Mesh, placement: Placement | None = None) -> NDArray[np.float32]:
    """(n,) float32 mm for each point of the mesh, stock left above 0, gouge below; nan where no column came near.

    A point takes the nearest sample of the triangles around it; as fine as the mesh is, see `refined`.
    """
    where = placement or Placement()
    points = mesh.points.astype(np.float64) @ np.array(where.rotation).reshape(3, 3).T + np.array(where.origin_mm)
    triangles = np.ascontiguousarray(mesh.triangles.astype(np.int64))
    surface = Surface(points, _closed(mesh, triangles), mesh.faces.astype(np.int64))
    return vertex_values(samples_of(columns, surface), points, triangles)


def vertex_values(samples: Samples, points: Floats, triangles: NDArray[np.int64]) -> NDArray[np.float32]:
    """As `deviation_of_vertices`, from samples of these triangles. points: (n, 3) mm in the setup."""
    nearest = np.zeros(len(points), np.int64)
    compare_kernels.nearest_samples(points, triangles, samples.points, samples.triangle, nearest)
    values = np.full(len(points), np.nan)
    known = nearest >= 0
    values[known] = samples.deviation[nearest[known]]
    return _spread(values, triangles).astype(np.float32)


def _closed(mesh: Mesh, triangles: NDArray[np.int64]) -> NDArray[np.int64]:
    """The triangles with one number for each place, all of them, so that columns cross a closed surface."""
    _, first, inverse = np.unique(mesh.points, axis=0, return_index=True, return_inverse=True)
    return np.ascontiguousarray(first[inverse.reshape(-1)][triangles])


def _spread(values: Floats, triangles: NDArray[np.int64], rounds: int = 8) -> Floats:
    """Points without a sample take the mean of their neighbours in the same face: a few rounds reach across slivers."""
    for _ in range(rounds):
        unknown = np.isnan(values)
        if not unknown.any():
            break
        corners = values[triangles]
        known = ~np.isnan(corners)
        sums = np.where(known, corners, 0.0).sum(axis=1)
        total = np.bincount(triangles.reshape(-1), np.repeat(sums, 3), len(values))
        count = np.bincount(triangles.reshape(-1), np.repeat(known.sum(axis=1), 3), len(values))
        near = unknown & (count > 0.0)
        values[near] = total[near] / count[near]
    return values


def _with_middles(
    points: NDArray[np.float32], sides: NDArray[np.int64], long: NDArray[np.bool_]
) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Points with the middles of the long sides added, and (t, 3) the number of each side's middle, -1 without one."""
    ordered = np.sort(sides[long], axis=1)
    pairs, which = np.unique(ordered, axis=0, return_inverse=True)
    middles = (points[pairs[:, 0]] + points[pairs[:, 1]]) * np.float32(0.5)
    numbers = np.full(long.shape, -1, np.int64)
    numbers[long] = len(points) + which.reshape(-1)
    return np.concatenate((points, middles)), numbers


def _split(triangles: NDArray[np.int64], middle: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
    """Triangles cut at the middles of their sides, and the old triangle of each: one, two or three sides are cut."""
    cut = middle >= 0
    number = cut.sum(axis=1)
    # Turned so that the whole side (two cut), or the cut one (one cut), comes first.
    lead = np.where(number == 1, cut.argmax(axis=1), np.where(number == 2, (~cut).argmax(axis=1), 0))
    turn = (np.arange(3)[None, :] + lead[:, None]) % 3
    a, b, c = np.take_along_axis(triangles, turn, axis=1).T
    ab, bc, ca = np.take_along_axis(middle, turn, axis=1).T
    rows: list[NDArray[np.intp]] = []
    made: list[NDArray[np.int64]] = []
    patterns = {
        0: ((a, b, c),),
        1: ((a, ab, c), (ab, b, c)),
        2: ((bc, c, ca), (a, b, bc), (a, bc, ca)),
        3: ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)),
    }
    for sides, pieces in patterns.items():
        of = np.flatnonzero(number == sides)
        for corners in pieces:
            made.append(np.column_stack([corner[of] for corner in corners]))
            rows.append(of)
    return np.concatenate(made), np.concatenate(rows)
