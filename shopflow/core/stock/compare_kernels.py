"""What numba compiles for comparing material with a model: where columns cross the model's faces and how far the
material's own end is from there, what a round tool leaves in a corner, and which move took a place away.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled
from shopflow.core.stock.sweep_kernels import NOTHING, highest_rim, lowest

Numbers = NDArray[np.int64]


@compiled
def sort_along(heights: Floats, which: Numbers, first: int, number: int) -> None:
    """Put the crossings of one column in order of height."""
    for k in range(first + 1, first + number):
        height, way, triangle = heights[k, 0], heights[k, 1], which[k]
        at = k
        while at > first and heights[at - 1, 0] > height:
            heights[at, 0], heights[at, 1], which[at] = heights[at - 1, 0], heights[at - 1, 1], which[at - 1]
            at -= 1
        heights[at, 0], heights[at, 1], which[at] = height, way, triangle


@compiled
def end_above(count: Counts, ends: Ends, i: int, j: int, height: float, low: float, high: float) -> float:
    """From a face that looks up the column to where the material really ends, mm: above 0 it stands over it.

    low, high: the model's neighbouring faces below and above: what is missing or left over counts no further. A column
    outside the grid is empty.
    """
    nearest = low
    if 0 <= i < count.shape[0] and 0 <= j < count.shape[1]:
        for k in range(count[i, j]):
            if ends[i, j, k, 0] < height <= ends[i, j, k, 1]:
                return min(np.float64(ends[i, j, k, 1]), high) - height
            if ends[i, j, k, 1] < height:
                nearest = max(nearest, np.float64(ends[i, j, k, 1]))
    return nearest - height


@compiled
def end_below(count: Counts, ends: Ends, i: int, j: int, height: float, low: float, high: float) -> float:
    """The same for a face that looks down the column: above 0 the material stands out under it."""
    nearest = high
    if 0 <= i < count.shape[0] and 0 <= j < count.shape[1]:
        for k in range(count[i, j] - 1, -1, -1):
            if ends[i, j, k, 0] <= height < ends[i, j, k, 1]:
                return height - max(np.float64(ends[i, j, k, 0]), low)
            if ends[i, j, k, 0] > height:
                nearest = min(nearest, np.float64(ends[i, j, k, 0]))
    return height - nearest


@compiled
def measure(
    begins: Numbers, found: Numbers, heights: Floats, which: Numbers, wanted: Counts, square: Floats, count: Counts,
    ends: Ends, shift: Numbers, cells: Numbers, out: Floats,
) -> int:  # fmt: skip
    """Samples of one set of columns; their number.

    begins, found: (n, m) crossings of each column of the lattice. wanted: (t,) whether this set measures a triangle.
    square: (t,) cosine between the triangle's normal and the columns. shift: (2,) cells that the lattice begins before
    the grid. cells: (samples, 3) lattice i, j and triangle. out: (samples, 2) height and deviation along the normal.
    """
    number = 0
    for i in range(found.shape[0]):
        for j in range(found.shape[1]):
            first, crossings = begins[i, j], found[i, j]
            sort_along(heights, which, first, crossings)
            for k in range(first, first + crossings):
                if not wanted[which[k]]:
                    continue
                low = heights[k - 1, 0] if k > first else -np.inf
                high = heights[k + 1, 0] if k + 1 < first + crossings else np.inf
                here = heights[k, 0]
                if heights[k, 1] > 0.0:
                    away = end_above(count, ends, i - shift[0], j - shift[1], here, low, high)
                else:
                    away = end_below(count, ends, i - shift[0], j - shift[1], here, low, high)
                cells[number, 0], cells[number, 1], cells[number, 2] = i, j, which[k]
                out[number, 0], out[number, 1] = here, away * square[which[k]]
                number += 1
    return number


@compiled
def first_solid(count: Counts, ends: Ends, i: int, j: int, place: float, way: float) -> float:
    """How far from a place along a column material begins, mm, going up (way 1) or down (-1); inf for never."""
    nearest = np.inf
    if 0 <= i < count.shape[0] and 0 <= j < count.shape[1]:
        for k in range(count[i, j]):
            low, high = np.float64(ends[i, j, k, 0]), np.float64(ends[i, j, k, 1])
            if way > 0.0 and high > place:
                return max(low - place, 0.0)
            if way < 0.0 and low < place:
                nearest = max(place - high, 0.0)
    return nearest


@compiled
def first_void(count: Counts, ends: Ends, i: int, j: int, place: float, way: float) -> float:
    """The same for air."""
    if 0 <= i < count.shape[0] and 0 <= j < count.shape[1]:
        for k in range(count[i, j]):
            low, high = np.float64(ends[i, j, k, 0]), np.float64(ends[i, j, k, 1])
            if low <= place <= high:
                return high - place if way > 0.0 else place - low
    return 0.0


@compiled
def sideways(
    points: Floats, normals: Floats, face: Numbers, deviation: Floats, begins: Numbers, edges: Floats, axis: int,
    count: Counts, ends: Ends, grid: Floats, is_kept: bool,
) -> None:  # fmt: skip
    """Deviations beside an edge that come from the face beyond it, cut down to what that face is off; in place.

    A wall gouged by 0.05 mm takes away the rim of the face on top of it, whose own depth there is the whole part;
    stock left on a wall stands over the rim of the floor as high as the wall. Where everything between a place and the
    edge is the same (air in a gouge, material in stock), it is off by no more than the way to the other side of it.

    edges: as `Edges.of_each_face`, outside ones where deviation is below 0, inside ones where it is above. axis: of the
    set that is looked along; edges whose face beyond is more square to another axis are left to that. grid: origin,
    pitch, and how near to an edge nothing can be said, since chords may lie on either side of it. is_kept: whether the
    set is there; without it a place within a pitch of the edge is passed over.
    """
    first, second = (1, 2) if axis == 0 else (0, 2) if axis == 1 else (0, 1)
    pitch = grid[3]
    for k in range(points.shape[0]):
        for e in range(begins[face[k]], begins[face[k] + 1]):
            deep = abs(deviation[k])
            if deep <= pitch:
                break
            lean = abs(edges[e, 7 + axis])
            if lean < max(abs(edges[e, 7 + first]), abs(edges[e, 7 + second])):
                continue
            x, y, z = points[k, 0] - edges[e, 0], points[k, 1] - edges[e, 1], points[k, 2] - edges[e, 2]
            along = x * edges[e, 3] + y * edges[e, 4] + z * edges[e, 5]
            if along < -pitch or along > edges[e, 6] + pitch:
                continue
            along = min(max(along, 0.0), edges[e, 6])
            x, y, z = x - along * edges[e, 3], y - along * edges[e, 4], z - along * edges[e, 5]
            far = math.sqrt(x * x + y * y + z * z)
            if far >= deep:
                continue
            if far <= (grid[4] if is_kept else pitch):
                deviation[k] = 0.0
                continue
            if not is_kept:
                continue
            is_gouge = deviation[k] < 0.0
            step = -pitch if is_gouge else pitch
            i = int(np.floor((points[k, first] + step * normals[k, first] - grid[first]) / pitch))
            j = int(np.floor((points[k, second] + step * normals[k, second] - grid[second]) / pitch))
            out = 1.0 if edges[e, 7 + axis] > 0.0 else -1.0
            place = points[k, axis]
            if is_gouge:
                if first_solid(count, ends, i, j, place, out) < far / lean:
                    continue
                off = first_solid(count, ends, i, j, place, -out) * lean
            else:
                if first_void(count, ends, i, j, place, -out) < min(far / lean, 1e3) - 1e-3:
                    continue
                off = first_void(count, ends, i, j, place, out) * lean
            if off < deep:
                deviation[k] = -off if is_gouge else off


@compiled
def left_by_round_tool(points: Floats, edges: Floats, slack: float, explained: Counts) -> None:
    """Mark the samples that a disc rolling into an inside edge does not touch.

    edges: (e, 11) start x y z, direction x y z, length, direction to the disc's middle x y z, and radius; the last is
    the disc's; its middle lies `radius / sin(half the angle)` from the edge, given as the length of that direction.
    """
    for k in range(points.shape[0]):
        for e in range(edges.shape[0]):
            radius = edges[e, 10]
            middle_x, middle_y, middle_z = edges[e, 7], edges[e, 8], edges[e, 9]
            far2 = middle_x * middle_x + middle_y * middle_y + middle_z * middle_z
            x, y, z = points[k, 0] - edges[e, 0], points[k, 1] - edges[e, 1], points[k, 2] - edges[e, 2]
            along = x * edges[e, 3] + y * edges[e, 4] + z * edges[e, 5]
            if along < -slack or along > edges[e, 6] + slack:
                continue
            x, y, z = x - along * edges[e, 3], y - along * edges[e, 4], z - along * edges[e, 5]
            reach = math.sqrt(max(far2 - radius * radius, 0.0)) + slack
            if x * x + y * y + z * z > reach * reach:
                continue
            x, y, z = x - middle_x, y - middle_y, z - middle_z
            inner = max(radius - slack, 0.0)
            if x * x + y * y + z * z >= inner * inner:
                explained[k] = 1
                break


@compiled
def from_edges(points: Floats, edges: Floats, reach: float, distance: Floats) -> None:
    """Distance of each point from the nearest edge, inf beyond `reach`; edges as above, the first seven numbers."""
    for k in range(points.shape[0]):
        nearest = reach * reach
        distance[k] = np.inf
        for e in range(edges.shape[0]):
            x, y, z = points[k, 0] - edges[e, 0], points[k, 1] - edges[e, 1], points[k, 2] - edges[e, 2]
            along = min(max(x * edges[e, 3] + y * edges[e, 4] + z * edges[e, 5], 0.0), edges[e, 6])
            x, y, z = x - along * edges[e, 3], y - along * edges[e, 4], z - along * edges[e, 5]
            squared = x * x + y * y + z * z
            if squared <= nearest:
                nearest = squared
                distance[k] = math.sqrt(squared)


@compiled
def takes(move: Floats, body: Floats, x: float, y: float, z: float) -> bool:
    """Whether a body that goes along a move comes over a place. body: as `profile.Body.row`."""
    bottom, radius, top = body[0], body[2], body[4]
    if z < min(move[2], move[5]) + bottom:
        return False
    if x < min(move[0], move[3]) - radius or x > max(move[0], move[3]) + radius:
        return False
    if y < min(move[1], move[4]) - radius or y > max(move[1], move[4]) + radius:
        return False
    dx, dy, dz = move[3] - move[0], move[4] - move[1], move[5] - move[2]
    length = math.sqrt(dx * dx + dy * dy)
    if length < 1e-9:
        start, ux, uy, length, rise = min(move[2], move[5]), 1.0, 0.0, 0.0, 0.0
    else:
        start, ux, uy, rise = move[2], dx / length, dy / length, dz / length
    u = ux * (x - move[0]) + uy * (y - move[1])
    v = ux * (y - move[1]) - uy * (x - move[0])
    floor, _ = lowest(u, v, length, rise, body[1], radius, body[3], int(body[5]))
    if floor >= NOTHING or z < start + bottom + floor:
        return False
    if top == np.inf:
        return True
    over = top + (abs(dz) if length == 0.0 else 0.0)
    rim = highest_rim(u, v, length, rise, radius) if rise != 0.0 else 0.0
    return bool(z <= start + over + rim)


@compiled
def first_through(points: Floats, moves: Floats, tool: Numbers, begins: Numbers, bodies: Floats, out: Numbers) -> None:
    """The first move whose cutter takes each place, -1 where none does."""
    for k in range(points.shape[0]):
        out[k] = -1
        for m in range(moves.shape[0]):
            if takes(moves[m], bodies[begins[tool[m]]], points[k, 0], points[k, 1], points[k, 2]):
                out[k] = m
                break


@compiled
def nearest_samples(
    corners: Floats, triangles: Numbers, points: Floats, of_triangle: Numbers, nearest: Numbers
) -> None:
    """For each corner of the mesh the nearest sample in a triangle that it belongs to, -1 where there is none."""
    best = np.full(corners.shape[0], np.inf)
    nearest[:] = -1
    for k in range(points.shape[0]):
        for corner in range(3):
            p = triangles[of_triangle[k], corner]
            x, y, z = points[k, 0] - corners[p, 0], points[k, 1] - corners[p, 1], points[k, 2] - corners[p, 2]
            squared = x * x + y * y + z * z
            if squared < best[p]:
                best[p] = squared
                nearest[p] = k


def warm() -> None:
    """Compile for the types that meshes, columns and runs have."""
    points, triangles = np.zeros((3, 3)), np.array([[0, 1, 2]], np.int64)
    found, which = np.zeros((1, 1), np.int64), np.zeros(1, np.int64)
    heights, flags = np.zeros((1, 2)), np.zeros(1, np.uint8)
    count, ends, two = np.zeros((1, 1), np.uint8), np.zeros((1, 1, 4, 2), np.float32), np.zeros(2, np.int64)
    cells = np.zeros((1, 3), np.int64)
    measure(found * 0, found, heights, which, flags, np.ones(1), count, ends, two, cells, heights.copy())
    left_by_round_tool(points, np.zeros((1, 11)), 0.0, np.zeros(3, np.uint8))
    from_edges(points, np.zeros((1, 11)), 1.0, np.zeros(3))
    face, begins, grid = np.zeros(3, np.int64), np.zeros(2, np.int64), np.ones(5)
    sideways(points, points, face, np.zeros(3), begins, np.zeros((0, 10)), 2, count, ends, grid, True)
    body = np.array([[0.0, 0.0, 1.0, 1.0, np.inf, 0.0, 0.0]])
    first_through(points, np.zeros((1, 6)), which, which, body, np.zeros(3, np.int64))
    nearest_samples(points, triangles, points[:1], which, np.zeros(3, np.int64))
