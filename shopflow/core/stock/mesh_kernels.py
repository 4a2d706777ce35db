"""What numba compiles for a closed triangle mesh: where straight lines along an axis go in and out of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled

Numbers = NDArray[np.int64]


@compiled
def edge_side(points: Floats, a: int, b: int, u: float, v: float) -> float:
    """On which side of the edge from a to b a place lies: above 0 left of it; exactly opposite from b to a.

    Both triangles at an edge must judge it by the same rounded numbers, so the corners are always taken in the same
    order and the sign is turned after. A place on the edge is judged as if all places lay a hair aside, by e in u and
    e² in v, so that all edges that meet in a corner agree on it.
    """
    low, high = min(a, b), max(a, b)
    du, dv = points[high, 0] - points[low, 0], points[high, 1] - points[low, 1]
    side = du * (v - points[low, 1]) - dv * (u - points[low, 0])
    if side == 0.0:
        side = -dv if dv != 0.0 else du
    sign = 1.0 if side > 0.0 else -1.0
    return sign if a == low else -sign


@compiled
def crossings(
    points: Floats, triangles: Numbers, start: Floats, pitch: float, found: Numbers, places: Numbers,
    heights: Floats, which: Numbers,
) -> None:  # fmt: skip
    """Where the columns cross the triangles.

    points: (p, 3) float64, the two grid axes first, then the columns' own. triangles: (t, 3). start: (2,) middle of the
    first cell. found: (n, m) int64, changed: crossings of each column. heights: (crossings, 2), or empty to count only:
    height mm, and 1 where the line goes out through the triangle, -1 where it goes in. which:
    (crossings,) triangle of each. places: (n, m), where each column's crossings begin in heights; moved on as they are
    written.
    """
    n, m = found.shape
    for t in range(triangles.shape[0]):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        ax, ay, bx, by, cx, cy = points[a, 0], points[a, 1], points[b, 0], points[b, 1], points[c, 0], points[c, 1]
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        first = max(0, int(np.floor((min(ax, bx, cx) - start[0]) / pitch)))
        last = min(n - 1, int(np.ceil((max(ax, bx, cx) - start[0]) / pitch)))
        low = max(0, int(np.floor((min(ay, by, cy) - start[1]) / pitch)))
        high = min(m - 1, int(np.ceil((max(ay, by, cy) - start[1]) / pitch)))
        for i in range(first, last + 1):
            u = start[0] + i * pitch
            for j in range(low, high + 1):
                v = start[1] + j * pitch
                one = edge_side(points, a, b, u, v)
                if edge_side(points, b, c, u, v) != one or edge_side(points, c, a, u, v) != one:
                    continue
                found[i, j] += 1
                if heights.shape[0] == 0:
                    continue
                height = points[a, 2]
                if area != 0.0:
                    share_b = ((u - ax) * (cy - ay) - (v - ay) * (cx - ax)) / area
                    share_c = ((bx - ax) * (v - ay) - (by - ay) * (u - ax)) / area
                    height += share_b * (points[b, 2] - points[a, 2]) + share_c * (points[c, 2] - points[a, 2])
                at = places[i, j]
                heights[at, 0], heights[at, 1], which[at] = height, one, t
                places[i, j] = at + 1


@compiled
def fill(begins: Numbers, found: Numbers, heights: Floats, count: Counts, ends: Ends, doubtful: Counts) -> int:
    """From crossings to intervals: material where more faces were gone in through than out.

    begins: (n, m) where each column's crossings begin in heights. doubtful: (n, m) uint8, set to 1 where a column goes
    in and out unequally often. The largest number of intervals that a column has; those without room are left empty.
    """
    most = 0
    capacity = ends.shape[2]
    for i in range(found.shape[0]):
        for j in range(found.shape[1]):
            first, number = begins[i, j], found[i, j]
            for k in range(first + 1, first + number):
                height, way = heights[k, 0], heights[k, 1]
                at = k
                while at > first and heights[at - 1, 0] > height:
                    heights[at, 0], heights[at, 1] = heights[at - 1, 0], heights[at - 1, 1]
                    at -= 1
                heights[at, 0], heights[at, 1] = height, way
            depth = 0.0
            pieces = 0
            begin = 0.0
            for k in range(first, first + number):
                was_inside = depth > 0.0
                depth -= heights[k, 1]
                if depth > 0.0 and not was_inside:
                    begin = heights[k, 0]
                elif was_inside and depth <= 0.0 and np.float32(heights[k, 0]) > np.float32(begin):
                    if pieces > 0 and pieces <= capacity and ends[i, j, pieces - 1, 1] >= np.float32(begin):
                        ends[i, j, pieces - 1, 1] = heights[k, 0]
                        continue
                    if pieces < capacity:
                        ends[i, j, pieces, 0] = begin
                        ends[i, j, pieces, 1] = heights[k, 0]
                    pieces += 1
            doubtful[i, j] = 1 if depth != 0.0 else 0
            count[i, j] = pieces if pieces <= capacity else 0
            most = max(most, pieces)
    return most


def warm() -> None:
    """Compile for the types that meshes and columns have."""
    triangles, found = np.array([[0, 1, 2]], np.int64), np.zeros((1, 1), np.int64)
    points, start = np.zeros((3, 3)), np.zeros(2)
    crossings(points, triangles, start, 1.0, found, found.copy(), np.zeros((0, 2)), np.zeros(0, np.int64))
    count = np.zeros((1, 1), np.uint8)
    fill(found, found * 0, np.zeros((1, 2)), count, np.zeros((1, 1, 4, 2), np.float32), count.copy())
