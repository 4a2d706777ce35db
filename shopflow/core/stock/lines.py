"""What motions did, gathered by the line of the program that they come from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.removal import Removal
from shopflow.core.types import Motions

Floats = NDArray[np.float64]

_LARGEST = (
    "thickest_mm", "axial_mm", "radial_mm", "shank_mm", "holder_mm", "past_flutes_mm", "holding_mm",
)  # fmt: skip


@dataclass(frozen=True)
class ByLine:
    """Row for row with `line`, (l,) int32 rising: sums of volume_mm3 and plunge_mm, the smallest rapid_gap_mm (to
    material or workholding), and the largest of the others; units as in `Removal`.
    """

    line: NDArray[np.int32]
    volume_mm3: Floats
    plunge_mm: Floats
    rapid_gap_mm: Floats
    thickest_mm: Floats
    axial_mm: Floats
    radial_mm: Floats
    shank_mm: Floats
    holder_mm: Floats
    past_flutes_mm: Floats
    holding_mm: Floats


def by_line(removal: Removal, motions: Motions) -> ByLine:
    """Gather a removal of all motions by program line."""
    lines, at = np.unique(motions.line, return_inverse=True)
    at = at.reshape(-1)
    largest = {name: np.zeros(len(lines)) for name in _LARGEST}
    for name, values in largest.items():
        np.maximum.at(values, at, getattr(removal, name))
    gap = np.full(len(lines), np.inf)
    np.minimum.at(gap, at, np.minimum(removal.rapid_gap_mm, removal.holding_gap_mm))
    return ByLine(
        line=lines,
        volume_mm3=_sums(at, removal.volume_mm3, len(lines)),
        plunge_mm=_sums(at, removal.plunge_mm, len(lines)),
        rapid_gap_mm=gap,
        **largest,
    )


def _sums(at: NDArray[np.intp], values: Floats, lines: int) -> Floats:
    sums: Floats = np.bincount(at, weights=values, minlength=lines).astype(np.float64)
    return sums
