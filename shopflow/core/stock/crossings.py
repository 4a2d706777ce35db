"""Where the columns of one set cross a mesh: counted first, then listed, so that the list is as long as it must be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import mesh_kernels

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class Crossings:
    """found: (n, m) how many each column has. begins: (n, m) where its own begin in the lists.

    heights: (crossings, 2) height mm, and 1 where the line goes out through the triangle, -1 where it goes in. which:
    (crossings,) triangle of each. Both lists have one row where nothing is crossed, so that kernels may take them.
    """

    found: Numbers
    begins: Numbers
    heights: Floats
    which: Numbers


def crossings_of(
    points: Floats, triangles: Numbers, axis: int, start: Floats, pitch: float, size: tuple[int, int]
) -> Crossings:
    """Cross the triangles with columns along an axis.

    points: (p, 3) the two grid axes first, then the columns' own. triangles: (t, 3). start: (2,) middle of the first
    cell. size: columns in both directions.
    """
    found = np.zeros(size, np.int64)
    mesh_kernels.crossings(points, triangles, start, pitch, found, found, np.zeros((0, 2)), np.zeros(0, np.int64))
    begins = (np.cumsum(found) - found.reshape(-1)).reshape(size)
    total = max(int(found.sum()), 1)
    heights, which = np.zeros((total, 2)), np.zeros(total, np.int64)
    mesh_kernels.crossings(points, triangles, start, pitch, np.zeros_like(found), begins.copy(), heights, which)
    if axis == 1:
        heights[:, 1] *= -1.0  # x and z with y are left-handed
    return Crossings(found, begins, heights, which)
