"""Boxes, volumes, areas and the library's own check, of solids only.

A file may hold construction geometry beside its solids: the box and the volume of the whole shape are then wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from OCP.Bnd import Bnd_Box
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps

Vector = tuple[float, float, float]


@dataclass(frozen=True)
class Box:
    """Lowest and highest corner, mm."""

    low: Vector
    high: Vector

    @property
    def size(self) -> Vector:
        return (self.high[0] - self.low[0], self.high[1] - self.low[1], self.high[2] - self.low[2])

    @property
    def diagonal(self) -> float:
        return float(sum(side * side for side in self.size) ** 0.5)

    def joined(self, other: Box) -> Box:
        lows = zip(self.low, other.low, strict=True)
        highs = zip(self.high, other.high, strict=True)
        low, high = [min(pair) for pair in lows], [max(pair) for pair in highs]
        return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def exact_box(solid: Any) -> Box | None:
    """The box of the exact surfaces, None when it is void; Add would take control points and tolerances in."""
    bounds = Bnd_Box()
    BRepBndLib.AddOptimal_s(solid, bounds, False, False)
    return _corners(bounds)


def rough_box(shape: Any) -> Box | None:
    """A box that may be too large, at once: good for choosing how fine a mesh to make."""
    bounds = Bnd_Box()
    BRepBndLib.Add_s(shape, bounds)
    return _corners(bounds)


def _corners(bounds: Any) -> Box | None:
    if bounds.IsVoid():
        return None
    low, high = bounds.CornerMin(), bounds.CornerMax()
    return Box((low.X(), low.Y(), low.Z()), (high.X(), high.Y(), high.Z()))


def volume_mm3(solid: Any) -> float:
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, props)
    return float(props.Mass())


def area_and_centre(face: Any) -> tuple[float, Vector]:
    """Area of a face in mm² and its centroid."""
    props = GProp_GProps()
    BRepGProp.SurfaceProperties_s(face, props)
    centre = props.CentreOfMass()
    return float(props.Mass()), (centre.X(), centre.Y(), centre.Z())


def is_valid(solid: Any) -> bool:
    return bool(BRepCheck_Analyzer(solid).IsValid())
