"""Whether the way to a place on the part is free, by straight lines against the triangle mesh."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.solid.features.cells import Cells, blocked
from shopflow.core.solid.graph import Vector, cross, unit
from shopflow.core.solid.mesh import Mesh

_AROUND = 12
_INSIDE = 0.97
"""Lines run this share of the radius from the axis, so that they do not graze the wall of the hole itself."""

_SKIN_MM = 1e-3

_FEW = 100
"""So many lines are sooner tried one by one than a grid is laid over the mesh for them."""

_EDGE_ON = 1e-12
"""Twice the area, mm², below which a triangle is seen from its edge."""

Triangles = NDArray[np.float64]


@dataclass(frozen=True)
class _Shadow:
    """The mesh seen along one direction, in a frame whose third axis is the direction.

    Triangles that are seen from their edge are not in it: their neighbours answer for them. corners: (m, 3, 3), three
    corners a triangle. faces: (m,) the face of each. low, high: three (m,) arrays each, the ends of the triangles'
    boxes; each its own array, as they are compared one by one and many times.
    """

    frame: NDArray[np.float64]
    corners: Triangles
    faces: NDArray[np.int32]
    low: tuple[NDArray[np.float64], ...]
    high: tuple[NDArray[np.float64], ...]


class Sight:
    """Answers whether a round corridor, or a line, is free of material. Keeps one view of the mesh a direction."""

    def __init__(self, mesh: Mesh) -> None:
        self._points = mesh.points.astype(np.float64)
        self._triangles = mesh.triangles.astype(np.int64)
        self._corners = self._points[self._triangles]
        self._faces = mesh.faces
        self._shadows: dict[tuple[int, int, int], _Shadow] = {}
        self._largest = _largest_triangles(self._corners, mesh.faces)

    def corridor_is_clear(self, start: Vector, direction: Vector, radius: float, length: float = math.inf) -> bool:
        """Whether a cylinder of this radius from start along direction touches nothing, tested on its axis and rim."""
        shadow = self._shadow(direction)
        centre = shadow.frame @ np.array(start)
        angles = np.arange(_AROUND) * (2 * math.pi / _AROUND)
        rim = radius * _INSIDE * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        spots = np.concatenate([centre[None, :2], centre[None, :2] + rim, centre[None, :2] + 0.5 * rim])
        return not _blocked(shadow, spots, float(centre[2]), float(centre[2]) + length)

    def line_is_clear(self, start: Vector, direction: Vector, length: float = math.inf) -> bool:
        """Whether a straight line from start along direction meets nothing."""
        shadow = self._shadow(direction)
        x, y, z = (shadow.frame @ np.array(start)).tolist()
        return not _line_blocked(shadow, x, y, z, z + length)

    def lines_are_clear(self, starts: NDArray[np.float64], direction: Vector) -> NDArray[np.bool_]:
        """`line_is_clear` for many lines the same way at once. starts: (s, 3)."""
        if len(starts) <= _FEW:
            clear = [self.line_is_clear((x, y, z), direction) for x, y, z in starts.tolist()]
            return np.array(clear, dtype=bool)
        shadow = self._shadow(direction)
        low, high = (np.stack(ends[:2], axis=1) for ends in (shadow.low, shadow.high))
        return ~blocked(Cells.over(low, high), shadow.corners, (shadow.low, shadow.high), starts @ shadow.frame.T)

    def first_hit(self, start: Vector, direction: Vector) -> tuple[float, int] | None:
        """Distance along a line to the first surface ahead, and its face; None when nothing is there."""
        shadow = self._shadow(direction)
        spot = shadow.frame @ np.array(start)
        near = _near(shadow, spot[None, :2], float(spot[2]) + _SKIN_MM, math.inf)
        hits, heights = _crossings(shadow.corners[near], spot[None, :2], float(spot[2]) + _SKIN_MM, math.inf)
        if not hits.any():
            return None
        first = int(np.argmin(np.where(hits[:, 0], heights[:, 0], np.inf)))
        return float(heights[first, 0] - spot[2]), int(shadow.faces[near[first]])

    def middle_of(self, face: int) -> Vector | None:
        """A point on a face: the middle of its largest triangle."""
        at = self._largest.get(face)
        return None if at is None else _vector(self._corners[at].mean(axis=0))

    def normal_of(self, face: int) -> Vector | None:
        """Outward normal at that point."""
        at = self._largest.get(face)
        if at is None:
            return None
        a, b, c = self._corners[at]
        return unit(_vector(np.cross(b - a, c - a)))

    def _shadow(self, direction: Vector) -> _Shadow:
        key = (round(direction[0] * 1e6), round(direction[1] * 1e6), round(direction[2] * 1e6))
        if key not in self._shadows:
            self._shadows[key] = self._look(direction)
        return self._shadows[key]

    def _look(self, direction: Vector) -> _Shadow:
        axis = unit(direction)
        first = unit(cross(axis, (1.0, 0.0, 0.0) if abs(axis[0]) < 0.9 else (0.0, 1.0, 0.0)))
        frame = np.array([first, cross(axis, first), axis])
        turned = self._points @ frame.T
        a, b, c = (turned[self._triangles[:, corner]].T for corner in range(3))
        twice_area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        seen = np.abs(twice_area) >= _EDGE_ON
        a, b, c = a[:, seen], b[:, seen], c[:, seen]
        low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
        corners = np.stack([a.T, b.T, c.T], axis=1)
        return _Shadow(frame, corners, self._faces[seen], tuple(low.copy()), tuple(high.copy()))


def _blocked(shadow: _Shadow, spots: NDArray[np.float64], bottom: float, top: float) -> bool:
    """Whether a line up from any of the spots, between two heights, passes through a triangle. spots: (s, 2)."""
    corners = shadow.corners[_near(shadow, spots, bottom, top)]
    return bool(len(corners)) and bool(_crossings(corners, spots, bottom, top)[0].any())


def _line_blocked(shadow: _Shadow, x: float, y: float, bottom: float, top: float) -> bool:
    """`_blocked` for one line. It meets few triangles, and those are faster looked at one by one."""
    near = np.flatnonzero((shadow.high[0] >= x) & (shadow.low[0] <= x))
    near = near[(shadow.high[1][near] >= y) & (shadow.low[1][near] <= y)]
    near = near[shadow.high[2][near] > bottom]
    return any(_crosses(triangle, x, y, bottom, top) for triangle in shadow.corners[near].tolist())


def _crosses(triangle: list[list[float]], x: float, y: float, bottom: float, top: float) -> bool:
    """Whether the upright line crosses a triangle between two heights; as `_crossings` has it."""
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = triangle
    area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    of_a = ((bx - x) * (cy - y) - (by - y) * (cx - x)) / area
    of_b = ((cx - x) * (ay - y) - (cy - y) * (ax - x)) / area
    of_c = ((ax - x) * (by - y) - (ay - y) * (bx - x)) / area
    if of_a < 0.0 or of_b < 0.0 or of_c < 0.0:
        return False
    return bottom < of_a * az + of_b * bz + of_c * cz < top


def _near(shadow: _Shadow, spots: NDArray[np.float64], bottom: float, top: float) -> NDArray[np.int64]:
    """Places of the triangles that come into question for upright lines through the spots, in order.

    One way after the other, each among the few that the one before left: most of the mesh is looked at once.
    """
    low, high = spots.min(axis=0), spots.max(axis=0)
    near = np.flatnonzero((shadow.high[0] >= low[0]) & (shadow.low[0] <= high[0]))
    near = near[(shadow.high[1][near] >= low[1]) & (shadow.low[1][near] <= high[1])]
    near = near[shadow.high[2][near] > bottom]
    return np.asarray(near if top == math.inf else near[shadow.low[2][near] < top])


def _largest_triangles(corners: Triangles, faces: NDArray[np.int32]) -> dict[int, int]:
    """Place of the largest triangle of each face."""
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    return {int(faces[place]): int(place) for place in np.argsort(areas, kind="stable")}


def _vector(values: NDArray[np.float64]) -> Vector:
    return (float(values[0]), float(values[1]), float(values[2]))


def _crossings(
    corners: Triangles, spots: NDArray[np.float64], bottom: float, top: float
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """For each triangle and spot, whether the upright line through the spot crosses it between the heights; where."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    twice_area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    area = twice_area[:, None]
    x, y = spots[None, :, 0], spots[None, :, 1]

    def weight(p: Triangles, q: Triangles) -> NDArray[np.float64]:
        across = (p[:, None, 0] - x) * (q[:, None, 1] - y) - (p[:, None, 1] - y) * (q[:, None, 0] - x)
        return np.asarray(across / area)

    of_a, of_b, of_c = weight(b, c), weight(c, a), weight(a, b)
    inside = (of_a >= 0) & (of_b >= 0) & (of_c >= 0)
    height = of_a * a[:, None, 2] + of_b * b[:, None, 2] + of_c * c[:, None, 2]
    return np.asarray(inside & (height > bottom) & (height < top)), np.asarray(height)
