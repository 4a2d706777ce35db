"""The grid that all three sets of columns share, and how fine it can be."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import NotPossible
from shopflow.core.types import Box, Vector

Floats = NDArray[np.float64]

SHARE_ASIDE = (math.sqrt(5.0) - 2.0, math.sqrt(2.0) - 1.0, math.sqrt(3.0) - 1.5)
"""How far the grid stands aside of the box in X, Y and Z, in pitches: irrational, so that round coordinates of a
drawing fall on no column."""

STEPS_IN_TOOL = 12.0
"""Steps of the grid that the diameter of the smallest tool should have (our choice: below ten its roundness goes)."""

FINEST_MM, COARSEST_MM = 0.02, 1.0

BYTES_PER_COLUMN = 33
"""Four intervals of two float32, and their count."""


@dataclass(frozen=True)
class Grid:
    """Cells of one pitch; columns stand on the middles of cells.

    origin: lowest corner of the lowest cell, mm. pitch: mm. shape: number of cells (x, y, z).
    """

    origin: Vector
    pitch: float
    shape: tuple[int, int, int]

    def middles(self, axis: int) -> Floats:
        """(cells,) float64, middles of the cells along an axis (0 X, 1 Y, 2 Z), mm."""
        steps = np.arange(self.shape[axis], dtype=np.float64)
        return self.origin[axis] + (steps + 0.5) * self.pitch

    @property
    def box(self) -> Box:
        """Lowest and highest corner, mm."""
        far = tuple(low + count * self.pitch for low, count in zip(self.origin, self.shape, strict=True))
        return self.origin, (far[0], far[1], far[2])

    @property
    def columns(self) -> int:
        """Columns of all three sets."""
        x, y, z = self.shape
        return x * y + y * z + x * z

    @property
    def across_error_mm(self) -> float:
        """How far a surface may be from where its nearest column across it says: half the diagonal of a cell.

        Along a column an end is exact to float32 (1e-5 mm at 160 mm from zero), so a floor is known by the Z set and a
        straight wall by the X or the Y set; only the rim of a face is uncertain by this much.
        """
        return self.pitch * math.sqrt(0.5)


def other_axes(axis: int) -> tuple[int, int]:
    """The two axes that number the columns along `axis`, the lower first: Z has (x, y), X has (y, z), Y has (x, z)."""
    first, second = (number for number in range(3) if number != axis)
    return first, second


def grid_over(box: Box, pitch: float) -> Grid:
    """A grid that covers the box with at least a tenth of a cell to spare on every side."""
    if not (math.isfinite(pitch) and pitch > 0.0):
        raise NotPossible(f"A grid needs a pitch above 0 mm; {pitch} was asked for.")
    origin, shape = [], []
    for low, high, aside in zip(*box, SHARE_ASIDE, strict=True):
        start = low - (0.1 + aside) * pitch
        origin.append(start)
        shape.append(max(1, math.ceil((high - start) / pitch + 0.1)))
    return Grid((origin[0], origin[1], origin[2]), pitch, (shape[0], shape[1], shape[2]))


def grid_for(box: Box, smallest_tool_mm: float, memory_limit: int) -> Grid:
    """The grid for a blank in this box: as fine as the smallest tool wants and the memory allows.

    smallest_tool_mm: diameter of the thinnest tool, 0 where none is known. memory_limit: bytes for all three sets.
    Raises NotPossible where even the coarsest grid does not fit.
    """
    size = np.maximum(np.subtract(box[1], box[0]), 1e-3)
    faces = float(size[0] * size[1] + size[1] * size[2] + size[0] * size[2])
    wanted = smallest_tool_mm / STEPS_IN_TOOL if smallest_tool_mm > 0.0 else 0.2
    affordable = math.sqrt(faces * BYTES_PER_COLUMN / max(memory_limit, 1))
    pitch = min(max(wanted, affordable, FINEST_MM), max(COARSEST_MM, affordable))
    grid = grid_over(box, pitch)
    while grid.columns * BYTES_PER_COLUMN > memory_limit and grid.pitch < COARSEST_MM:
        grid = grid_over(box, min(grid.pitch * 1.05, COARSEST_MM))
    if grid.columns * BYTES_PER_COLUMN > memory_limit:
        raise NotPossible(
            f"A blank of {size[0]:.0f} x {size[1]:.0f} x {size[2]:.0f} mm does not fit into "
            f"{memory_limit / 1e6:.0f} MB even at a grid of {COARSEST_MM:g} mm; allow more memory."
        )
    return grid
