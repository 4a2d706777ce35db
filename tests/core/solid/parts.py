"""Parts built with Open CASCADE from exact dimensions, and their STEP files: what the readers are measured against."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from OCP.BRep import BRep_Builder
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon, BRepBuilderAPI_Transform
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer, BRepFilletAPI_MakeFillet
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakePrism,
    BRepPrimAPI_MakeSphere,
)
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.IFSelect import IFSelect_RetDone
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer
from OCP.TopAbs import TopAbs_EDGE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Compound

UP = (0.0, 0.0, 1.0)


def box(x: float, y: float, z: float, at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Any:
    """A block with its lowest corner at a point."""
    return BRepPrimAPI_MakeBox(gp_Pnt(*at), x, y, z).Shape()


def _seat(at: Any, along: Any) -> Any:
    return gp_Ax2(gp_Pnt(*at), gp_Dir(*along))


def cylinder(radius: float, height: float, at: Any = (0, 0, 0), along: Any = UP) -> Any:
    return BRepPrimAPI_MakeCylinder(_seat(at, along), radius, height).Shape()


def cone(radius: float, top_radius: float, height: float, at: Any = (0, 0, 0), along: Any = UP) -> Any:
    return BRepPrimAPI_MakeCone(_seat(at, along), radius, top_radius, height).Shape()


def sphere(radius: float, at: Any = (0, 0, 0)) -> Any:
    return BRepPrimAPI_MakeSphere(gp_Pnt(*at), radius).Shape()


def prism(outline: list[tuple[float, float]], z: float, height: float) -> Any:
    """A straight column over an outline in the XY plane."""
    polygon = BRepBuilderAPI_MakePolygon()
    for x, y in outline:
        polygon.Add(gp_Pnt(x, y, z))
    polygon.Close()
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(polygon.Wire()).Face(), gp_Vec(0, 0, height)).Shape()


def cut(shape: Any, *tools: Any) -> Any:
    for tool in tools:
        shape = BRepAlgoAPI_Cut(shape, tool).Shape()
    return shape


def fuse(shape: Any, *others: Any) -> Any:
    for other in others:
        shape = BRepAlgoAPI_Fuse(shape, other).Shape()
    return shape


def drill(diameter: float, depth: float, at: Any, along: Any = (0, 0, -1), point_deg: float | None = 118.0) -> Any:
    """What a drill takes away: a full diameter to the depth, then its point. point_deg None: a flat bottom."""
    radius = diameter / 2
    tool = cylinder(radius, depth, at, along)
    if point_deg is None:
        return tool
    end = [p + depth * a for p, a in zip(at, along, strict=True)]
    return fuse(tool, cone(radius, 0.0, radius / math.tan(math.radians(point_deg / 2)), end, along))


def countersink(diameter: float, angle_deg: float, at: Any, along: Any = (0, 0, -1)) -> Any:
    radius = diameter / 2
    return cone(radius, 0.0, radius / math.tan(math.radians(angle_deg / 2)), at, along)


def edges(shape: Any, chosen: Any = lambda middle: True) -> list[Any]:
    """Edges whose middle between their ends is chosen, each once."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve

    explorer, found = TopExp_Explorer(shape, TopAbs_EDGE), []
    while explorer.More():
        edge = TopoDS.Edge(explorer.Current())
        curve = BRepAdaptor_Curve(edge)
        middle = curve.Value((curve.FirstParameter() + curve.LastParameter()) / 2)
        if chosen((middle.X(), middle.Y(), middle.Z())) and not any(edge.IsSame(other) for other in found):
            found.append(edge)
        explorer.Next()
    return found


def fillet(shape: Any, radius: float, chosen: Any) -> Any:
    maker = BRepFilletAPI_MakeFillet(shape)
    for edge in edges(shape, chosen):
        maker.Add(radius, edge)
    return maker.Shape()


def chamfer(shape: Any, size: float, chosen: Any) -> Any:
    maker = BRepFilletAPI_MakeChamfer(shape)
    for edge in edges(shape, chosen):
        maker.Add(size, edge)
    return maker.Shape()


def turned(shape: Any, axis: Any, degrees: float, move: Any = (0.0, 0.0, 0.0)) -> Any:
    """The shape turned about an axis through the origin, then moved."""
    turn, shift = gp_Trsf(), gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(*axis)), math.radians(degrees))
    shift.SetTranslation(gp_Vec(*move))
    return BRepBuilderAPI_Transform(shape, shift.Multiplied(turn), True).Shape()


def together(*shapes: Any) -> Any:
    """Several bodies in one file."""
    compound, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(compound)
    for shape in shapes:
        builder.Add(compound, shape)
    return compound


def write(shape: Any, path: Path, unit: str = "MM", schema: str = "AP214IS") -> Path:
    """Write a STEP file. unit: "MM", "INCH", "M" …; the part keeps its size in millimetres."""
    STEPControl_Writer()  # the settings do not exist before the first writer does
    assert Interface_Static.SetCVal_s("write.step.unit", unit)
    assert Interface_Static.SetCVal_s("write.step.schema", schema)
    writer = STEPControl_Writer()
    writer.Transfer(shape, STEPControl_AsIs)
    assert writer.Write(str(path)) == IFSelect_RetDone
    return path
