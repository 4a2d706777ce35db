"""Removes hidden lines: the exact way by Open CASCADE's surfaces, or the quick way by the triangle mesh."""

from __future__ import annotations

from typing import Any

from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepLib import BRepLib
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.GCPnts import GCPnts_TangentialDeflection
from OCP.GeomAbs import GeomAbs_Line
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.HLRAlgo import HLRAlgo_Projector
from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape, HLRBRep_PolyAlgo, HLRBRep_PolyHLRToShape
from OCP.TopAbs import TopAbs_EDGE
from OCP.TopoDS import TopoDS

from shopflow.core.solid.drawing import Drawing, Polyline, View
from shopflow.core.solid.occ.load import children

_BEND_RAD = 0.12
"""Largest turn between the pieces of a drawn curve."""


def exact(solids: list[Any], view: View, fine_mm: float) -> Drawing:
    """Lines of the exact surfaces. fine_mm: largest distance between a curve and the pieces it is drawn by."""
    remover = HLRBRep_Algo()
    for solid in solids:
        remover.Add(solid, 0)
    remover.Projector(_projector(view))
    remover.Update()
    remover.Hide()
    return _drawing(HLRBRep_HLRToShape(remover), view, fine_mm, is_exact=True)


def quick(solids: list[Any], view: View, fine_mm: float) -> Drawing:
    """Lines of the triangle mesh: good enough to see the part when the exact ones take too long."""
    remover = HLRBRep_PolyAlgo()
    for solid in solids:
        BRepMesh_IncrementalMesh(solid, fine_mm, False, 0.35, False)
        remover.Load(solid)
    remover.Projector(_projector(view))
    remover.Update()
    shapes = HLRBRep_PolyHLRToShape()
    shapes.Update(remover)
    return _drawing(shapes, view, fine_mm, is_exact=False)


def _projector(view: View) -> Any:
    return HLRAlgo_Projector(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(*view.towards), gp_Dir(*view.flat_right)))


def _drawing(shapes: Any, view: View, fine_mm: float, *, is_exact: bool) -> Drawing:
    visible = _polylines((shapes.VCompound, shapes.OutLineVCompound), fine_mm)
    smooth = _polylines((shapes.Rg1LineVCompound, shapes.RgNLineVCompound), fine_mm)
    hidden = _polylines((shapes.HCompound, shapes.OutLineHCompound), fine_mm)
    return Drawing(view, visible, smooth, hidden, is_exact)


def _polylines(sources: tuple[Any, ...], fine_mm: float) -> tuple[Polyline, ...]:
    lines: list[Polyline] = []
    for source in sources:
        compound = source()
        if compound is not None and not compound.IsNull():
            BRepLib.BuildCurves3d_s(compound)
            lines += [_polyline(TopoDS.Edge(edge), fine_mm) for edge in children(compound, TopAbs_EDGE)]
    return tuple(line for line in lines if len(line) > 1)


def _polyline(edge: Any, fine_mm: float) -> Polyline:
    curve = BRepAdaptor_Curve(edge)
    first, last = curve.FirstParameter(), curve.LastParameter()
    if curve.GetType() == GeomAbs_Line:
        points = [curve.Value(first), curve.Value(last)]
    else:
        pieces = GCPnts_TangentialDeflection(curve, first, last, _BEND_RAD, fine_mm)
        points = [pieces.Value(number) for number in range(1, pieces.NbPoints() + 1)]
    return tuple((round(point.X(), 4) + 0.0, round(point.Y(), 4) + 0.0) for point in points)
