"""Triangles by the cells of a flat grid that they lie over, so that an upright line is tried against few of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_MOST_A_SIDE = 48
"""Squared it is far below what 16 bits hold."""
_AT_ONCE = 512
"""Lines whose pairs with triangles are looked at together, which bounds the memory."""

Numbers = NDArray[np.int64]
Boxes = tuple[Sequence[NDArray[np.float64]], Sequence[NDArray[np.float64]]]


@dataclass(frozen=True)
class Cells:
    """low: (2,) corner of the grid; step: (2,) size of a cell; side: cells along each way. triangles: their places,
    cell by cell; starts: (side² + 1,) where each cell begins in it."""

    low: NDArray[np.float64]
    step: NDArray[np.float64]
    side: int
    triangles: Numbers
    starts: Numbers

    @classmethod
    def over(cls, low: NDArray[np.float64], high: NDArray[np.float64]) -> Cells:
        """low, high: (m, 2) boxes of the triangles."""
        side = min(max(int(math.sqrt(len(low)) / 2), 1), _MOST_A_SIDE)
        least, most = low.min(axis=0), high.max(axis=0)
        step = np.maximum((most - least) / side, 1e-9)
        first, last = (np.clip(((ends - least) / step).astype(np.int64), 0, side - 1) for ends in (low, high))
        wide, deep = (last - first + 1).T
        owner, nth = _unrolled(wide * deep)
        across = first[owner, 0] + nth % wide[owner]
        cell = (across * side + first[owner, 1] + nth // wide[owner]).astype(np.uint16)  # sorted by digits, at once
        order = np.argsort(cell, kind="stable")
        return cls(least, step, side, owner[order], np.searchsorted(cell[order], np.arange(side * side + 1)))

    def near(self, spots: NDArray[np.float64]) -> tuple[Numbers, Numbers]:
        """Pairs (number of a spot, place of a triangle) that lie over the same cell. spots: (s, 2)."""
        at = np.clip(((spots - self.low) / self.step).astype(np.int64), 0, self.side - 1)
        cell = at[:, 0] * self.side + at[:, 1]
        owner, nth = _unrolled(self.starts[cell + 1] - self.starts[cell])
        return owner, self.triangles[self.starts[cell][owner] + nth]


def _unrolled(counts: Numbers) -> tuple[Numbers, Numbers]:
    """For counts 2, 1: owners 0 0 1 and their numbers 0 1 0."""
    owner = np.repeat(np.arange(len(counts)), counts)
    return owner, np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)


def blocked(cells: Cells, corners: NDArray[np.float64], boxes: Boxes, spots: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether a line up from each spot meets a triangle.

    corners: (m, 3, 3), none seen from its edge; boxes: low and high ends of theirs; spots: (s, 3).
    """
    found = np.zeros(len(spots), dtype=bool)
    for start in range(0, len(spots), _AT_ONCE):
        some = spots[start : start + _AT_ONCE]
        owner, triangle = _in_boxes(*cells.near(some[:, :2]), boxes, some)
        hit = owner[_meets(corners[triangle], some[owner])]
        found[start + hit] = True
    return found


def _in_boxes(owner: Numbers, triangle: Numbers, boxes: Boxes, spots: NDArray[np.float64]) -> tuple[Numbers, Numbers]:
    """The pairs whose spot lies in the triangle's box as seen from above, and under its top: few of those of a cell."""
    low, high = boxes
    for axis in (2, 0, 1):
        at = spots[owner, axis]
        inside = high[axis][triangle] >= at
        if axis < 2:
            inside &= low[axis][triangle] <= at
        owner, triangle = owner[inside], triangle[inside]
    return owner, triangle


def _meets(corners: NDArray[np.float64], spots: NDArray[np.float64]) -> NDArray[np.bool_]:
    """For pairs: whether the line up from the spot goes through the triangle."""
    flat = corners[:, :, :2] - spots[:, None, :2]
    a, b, c = flat[:, 0], flat[:, 1], flat[:, 2]
    of_a, of_b, of_c = _cross(b, c), _cross(c, a), _cross(a, b)
    area = of_a + of_b + of_c
    inside = ((of_a * area >= 0) & (of_b * area >= 0) & (of_c * area >= 0)) & (area != 0)
    height = (of_a * corners[:, 0, 2] + of_b * corners[:, 1, 2] + of_c * corners[:, 2, 2]) / np.where(area, area, 1.0)
    return np.asarray(inside & (height > spots[:, 2]))


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
