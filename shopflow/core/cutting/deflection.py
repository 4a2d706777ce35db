"""How far a slender tool bends under the force of the cut: a bar held at one end, in two widths.

From the holder's nose down a shank, then the flutes, of which the core carries. The force acts at the middle of the
cut, which the caller takes at the tip to be on the safe side.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shopflow.core.types import Tool, ToolMaterial

Floats = NDArray[np.float64]

YOUNG_N_MM2 = {
    ToolMaterial.CARBIDE: 600_000.0,
    ToolMaterial.HSS: 210_000.0,
    ToolMaterial.COBALT: 210_000.0,
    ToolMaterial.INSERT: 210_000.0,
}
"""Young's modulus of the body; an insert tool's is steel (usual handbook values, from memory)."""

CORE_SHARE = 0.8
"""Diameter of a round bar as stiff as the flutes, as a share of the cutter's (common practice, no source)."""

RADIAL_SHARE = 0.3
"""Force across the cut as a share of the force along it (common practice, no source)."""


def bending_mm_per_n(tool: Tool) -> float:
    """How far the tip moves for one newton across it, mm/N; 0 where the stickout is not known.

    Two bars in a row: for one of length l that carries a force at distance a beyond its end, deflection and slope at
    its end are F (l³/3 + a l²/2)/EI and F (l²/2 + a l)/EI.
    """
    length = tool.stickout_mm
    if length <= 0.0:
        return 0.0
    flutes = min(tool.flute_length_mm or length, length)
    shank = length - flutes
    young = YOUNG_N_MM2[tool.material]
    width = tool.neck_diameter_mm or tool.shank_diameter_mm or tool.diameter_mm
    upper, lower = young * _second_moment(width), young * _second_moment(CORE_SHARE * tool.diameter_mm)
    of_shank = (shank**3 / 3.0 + flutes * shank**2 / 2.0) / upper
    slope = (shank**2 / 2.0 + flutes * shank) / upper
    return of_shank + slope * flutes + flutes**3 / 3.0 / lower


def deflection_mm(tool: Tool, tangential_n: ArrayLike) -> Floats:
    """How far the tip bends under a cut, mm: force along the cut, with its share across it, over the stiffness."""
    force = np.asarray(tangential_n, dtype=np.float64) * math.hypot(1.0, RADIAL_SHARE)
    bent: Floats = force * bending_mm_per_n(tool)
    return bent


def _second_moment(diameter_mm: float) -> float:
    """Of a round bar, mm⁴: π d⁴ / 64."""
    return math.pi * diameter_mm**4 / 64.0
