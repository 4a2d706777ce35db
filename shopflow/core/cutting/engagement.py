"""How a cutter is engaged: angle of engagement, chip thickness, rate of removal.

Arrays or numbers throughout; lengths mm, feeds mm/min, speeds rpm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shopflow.core.types import Tool, ToolShape

Floats = NDArray[np.float64]


def _array(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)


def tooth_feed(feed_mm_min: ArrayLike, rpm: ArrayLike, flutes: ArrayLike) -> Floats:
    """mm a tooth: f / (n z); inf at standstill."""
    with np.errstate(divide="ignore", invalid="ignore"):
        fed: Floats = _array(feed_mm_min) / (_array(rpm) * _array(flutes))
    return fed


def engagement_angle_deg(radial_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Angle in which a tooth cuts, degrees: acos(1 - 2 ae / D); 180 in a full slot."""
    share = np.clip(1.0 - 2.0 * _array(radial_mm) / _array(diameter_mm), -1.0, 1.0)
    angle: Floats = np.degrees(np.arccos(share))
    return angle


def thinning_factor(radial_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """How much thinner the thickest chip is than the feed a tooth: D / (2 √(ae (D - ae))) under half the diameter, else
    1.

    Feed a tooth divided by it is the thickest chip; a wanted chip times it is the feed a tooth to program. inf where
    nothing is engaged.
    """
    width, diameter = _array(radial_mm), _array(diameter_mm)
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = diameter / (2.0 * np.sqrt(np.maximum(width * (diameter - width), 0.0)))
    thin: Floats = np.where(width >= diameter / 2.0, 1.0, factor)
    return thin


def diameter_in_cut(tool: Tool, axial_mm: ArrayLike) -> Floats:
    """Largest diameter of the cutting end that a cut of this depth uses, mm: less than the tool's for a ball or a
    point."""
    depth = np.maximum(_array(axial_mm), 0.0)
    whole = tool.diameter_mm
    if tool.shape is ToolShape.BALL:
        used = 2.0 * np.sqrt(np.maximum(depth * (whole - depth), 0.0))
        in_cut: Floats = np.where(depth >= whole / 2.0, whole, used)
        return in_cut
    if tool.point_angle_deg < 180.0 and tool.shape is not ToolShape.FACE:
        half = np.tan(np.radians(tool.point_angle_deg) / 2.0)
        at_depth: Floats = np.minimum(whole, tool.tip_diameter_mm + 2.0 * depth * half)
        return at_depth
    return np.full(np.shape(depth), whole)


def removal_rate_cm3_min(axial_mm: ArrayLike, radial_mm: ArrayLike, feed_mm_min: ArrayLike) -> Floats:
    """cm³/min: ap ae vf / 1000."""
    rate: Floats = _array(axial_mm) * _array(radial_mm) * _array(feed_mm_min) / 1000.0
    return rate
