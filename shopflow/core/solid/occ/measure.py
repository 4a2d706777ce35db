"""Boxes, volumes, areas and the library's own check, of solids only.

A file may hold construction geometry beside its solids: the box and the volume of the whole shape are then wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from OCP.Bnd import Bnd_Box
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GeomAbs import GeomAbs_Plane
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_FACE
from OCP.TopoDS import TopoDS

from shopflow.core.solid.occ.load import children

Vector = tuple[float, float, float]

INSIDE_MM = 5e-6
"""A blend that runs out into a flat side reaches it but for rounding; the exact box of such a torus takes 8 ms."""


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

    def holds(self, other: Box) -> bool:
        """Whether another box lies inside this one, or no more than INSIDE_MM out of it."""
        above = all(mine - INSIDE_MM <= its for mine, its in zip(self.low, other.low, strict=True))
        return above and all(mine + INSIDE_MM >= its for mine, its in zip(self.high, other.high, strict=True))


def exact_box(solid: Any) -> Box | None:
    """The box of the exact surfaces, None when it is void; Add would take control points and tolerances in."""
    faces = sorted(children(solid, TopAbs_FACE), key=lambda face: not _is_flat(face))
    bounds, known = Bnd_Box(), None
    for face in faces:
        rough = rough_box(face)
        if rough and known and known.holds(rough):
            continue  # the slow exact box of a curved face inside the box so far would change nothing
        BRepBndLib.AddOptimal_s(face, bounds, False, False)
        known = _corners(bounds)
    return known


def _is_flat(face: Any) -> bool:
    return bool(BRepAdaptor_Surface(TopoDS.Face(face), False).GetType() == GeomAbs_Plane)


def rough_box(shape: Any) -> Box | None:
    """A box that may be too large, at once: good for choosing how fine a mesh to make."""
    bounds = Bnd_Box()
    BRepBndLib.Add_s(shape, bounds, False)
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
