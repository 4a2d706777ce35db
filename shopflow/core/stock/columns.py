"""Material as three sets of columns: along X, along Y and along Z, on one aligned grid.

A column holds the intervals in which it runs through material, with exact ends. Along its columns a set knows a surface
finer than the grid; the three together know floors and straight walls alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import LimitReached
from shopflow.core.stock.grid import Grid, other_axes

Floats = NDArray[np.float64]
Ends = NDArray[np.float32]
Counts = NDArray[np.uint8]

FIRST_CAPACITY, MOST_CAPACITY = 4, 128


@dataclass(frozen=True)
class ColumnSet:
    """All columns along one axis.

    axis: 0 X, 1 Y, 2 Z. count: (n, m) uint8, intervals in each column. ends: (n, m, K, 2) float32, mm: low and high end
    of interval k in [k, 0] and [k, 1], sorted, disjoint, of positive length; slots from count on mean nothing. n and m
    number the cells along `other_axes(axis)`. Coordinates are float32: rounded by at most 2^-24 of their size, 1e-5 mm
    at 160 mm from zero.
    """

    axis: int
    count: Counts
    ends: Ends

    @property
    def capacity(self) -> int:
        """K, intervals that a column can hold."""
        return int(self.ends.shape[2])

    def lengths(self) -> Floats:
        """(n, m) float64, mm of material in each column."""
        used = np.arange(self.capacity) < self.count[:, :, None]
        spans = np.subtract(self.ends[..., 1], self.ends[..., 0], dtype=np.float64)
        total: Floats = np.where(used, spans, 0.0).sum(axis=2)
        return total

    def extremes(self) -> tuple[Ends, Ends]:
        """(n, m) float32 lowest and highest end of each column; inf and -inf where it is empty."""
        last = np.maximum(self.count.astype(np.intp), 1) - 1
        highest = np.take_along_axis(self.ends[..., 1], last[:, :, None], axis=2)[..., 0]
        empty = self.count == 0
        low = np.where(empty, np.float32(np.inf), self.ends[:, :, 0, 0])
        return low, np.where(empty, np.float32(-np.inf), highest)

    def widened(self, capacity: int) -> ColumnSet:
        """The same columns with room for `capacity` intervals; raises LimitReached beyond the most there may be."""
        if capacity > MOST_CAPACITY:
            name = "XYZ"[self.axis]
            raise LimitReached(
                f"A column along {name} would hold more than {MOST_CAPACITY} pieces of material. Choose a coarser grid "
                "or simulate the part in two halves."
            )
        if capacity <= self.capacity:
            return self
        ends = np.zeros((*self.count.shape, capacity, 2), dtype=np.float32)
        ends[:, :, : self.capacity] = self.ends
        return replace(self, ends=ends)


@dataclass(frozen=True)
class Columns:
    """A piece of material. sets: along X, Y and Z in this order; None for a set that is not kept.

    turned_mm: how far surfaces may lie from where they were since a turn by no right angle, 0 without one (`turn`).
    What changes columns works on a copy (`copied`), so that a value once handed out stays what it is.
    """

    grid: Grid
    sets: tuple[ColumnSet | None, ColumnSet | None, ColumnSet]
    turned_mm: float = 0.0

    @property
    def origin(self) -> tuple[float, float, float]:
        return self.grid.origin

    @property
    def pitch(self) -> float:
        return self.grid.pitch

    @property
    def shape(self) -> tuple[int, int, int]:
        return self.grid.shape

    @property
    def kept(self) -> tuple[ColumnSet, ...]:
        """The sets that are there, in the order X, Y, Z."""
        return tuple(one for one in self.sets if one is not None)

    def along(self, axis: int) -> ColumnSet:
        """The set along an axis; raises KeyError where it is not kept."""
        found = self.sets[axis]
        if found is None:
            raise KeyError("XYZ"[axis])
        return found

    def volumes(self) -> tuple[float, ...]:
        """mm³ as each kept set has it; they differ by what lies between the columns."""
        return tuple(float(one.lengths().sum()) * self.pitch**2 for one in self.kept)

    @property
    def volume(self) -> float:
        """mm³, mean of the kept sets."""
        return float(np.mean(self.volumes()))

    @property
    def aside_mm(self) -> float:
        """How far a surface may be from where its nearest column across it says: the grid's error and the turn's."""
        return self.grid.across_error_mm + self.turned_mm

    @property
    def bytes_held(self) -> int:
        return sum(one.count.nbytes + one.ends.nbytes for one in self.kept)

    def vertical_only(self) -> Columns:
        """The same material with the Z set alone, for a first answer."""
        return replace(self, sets=(None, None, self.sets[2]))

    def copied(self) -> Columns:
        """A deep copy, free to change."""
        copies = [None if one is None else ColumnSet(one.axis, one.count.copy(), one.ends.copy()) for one in self.sets]
        vertical = copies[2]
        assert vertical is not None
        return replace(self, sets=(copies[0], copies[1], vertical))


def with_sets(grid: Grid, made: dict[int, ColumnSet], turned_mm: float = 0.0) -> Columns:
    """Columns from their sets by axis; the Z set must be among them."""
    return Columns(grid, (made.get(0), made.get(1), made[2]), turned_mm)


def set_of(axis: int, low: Floats, high: Floats, capacity: int = FIRST_CAPACITY) -> ColumnSet:
    """A set with one interval [low, high] a column, (n, m) mm; none where high is not above low."""
    full = high > low
    ends = np.zeros((*low.shape, capacity, 2), dtype=np.float32)
    ends[:, :, 0, 0] = np.where(full, low, 0.0)
    ends[:, :, 0, 1] = np.where(full, high, 0.0)
    return ColumnSet(axis, (ends[:, :, 0, 1] > ends[:, :, 0, 0]).astype(np.uint8), ends)


def cell_middles(grid: Grid, axis: int) -> tuple[Floats, Floats]:
    """Coordinates of the columns along an axis: (n, 1) and (1, m) float64, mm."""
    first, second = other_axes(axis)
    return grid.middles(first)[:, None], grid.middles(second)[None, :]


def largest_difference(one: Columns, other: Columns) -> float:
    """How far two states of one grid differ, mm: the longest stretch along a column that only one of them has.

    A column end that moved shows its way exactly; a sliver thinner than the grid shows in the set that it lies across.
    """
    from shopflow.core.stock import column_kernels

    if one.grid != other.grid:
        raise ValueError("only columns of the same grid can be compared")
    pairs = ((a, b) for a, b in zip(one.sets, other.sets, strict=True) if a is not None and b is not None)
    return max(float(column_kernels.longest_apart(a.count, a.ends, b.count, b.ends)) for a, b in pairs)
