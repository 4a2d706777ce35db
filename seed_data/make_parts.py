"""Makes the demo's three parts as STEP files in seed_data/models: python seed_data/make_parts.py

Each part has its origin in the middle of its top face, Z up, in millimetres: the same place as the part zero of the
first setup of its program in seed_data/programs.
"""

import math
import re
from pathlib import Path

from OCP.BRep import BRep_Tool
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCone, BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer
from OCP.TopAbs import TopAbs_EDGE
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Shape

FOLDER = Path(__file__).parent / "models"
DOWN = (0.0, 0.0, -1.0)
Point = tuple[float, float, float]


def block(x: float, y: float, z: float, *, corner_radius: float = 0.0, at: Point = (0.0, 0.0, 0.0)) -> TopoDS_Shape:
    """A box with its top face around `at`; upright edges rounded."""
    low = gp_Pnt(at[0] - x / 2, at[1] - y / 2, at[2] - z)
    shape = BRepPrimAPI_MakeBox(low, x, y, z).Shape()
    return with_round_corners(shape, corner_radius) if corner_radius else shape


def with_round_corners(shape: TopoDS_Shape, radius: float) -> TopoDS_Shape:
    fillet = BRepFilletAPI_MakeFillet(shape)
    for edge in upright_edges(shape):
        fillet.Add(radius, edge)
    return fillet.Shape()


def upright_edges(shape: TopoDS_Shape) -> list:
    found, explorer = {}, TopExp_Explorer(shape, TopAbs_EDGE)
    while explorer.More():
        edge = TopoDS.Edge(explorer.Current())
        ends = [BRep_Tool.Pnt_s(vertex) for vertex in (TopExp.FirstVertex_s(edge), TopExp.LastVertex_s(edge))]
        if abs(ends[0].Z() - ends[1].Z()) > 1e-6:
            found[round(ends[0].X(), 3), round(ends[0].Y(), 3)] = edge
        explorer.Next()
    return list(found.values())


def hole(diameter: float, depth: float, at: Point, *, along: Point = DOWN, point_angle: float = 180.0) -> list:
    """Cylinder into the part, with the cone that a drill of this point angle leaves."""
    cylinder = BRepPrimAPI_MakeCylinder(axis(at, along), diameter / 2, depth).Shape()
    if point_angle >= 180:
        return [cylinder]
    bottom = tuple(start + depth * step for start, step in zip(at, along, strict=True))
    height = diameter / 2 / math.tan(math.radians(point_angle / 2))
    return [cylinder, BRepPrimAPI_MakeCone(axis(bottom, along), diameter / 2, 0.0, height).Shape()]


def axis(at: Point, along: Point) -> gp_Ax2:
    return gp_Ax2(gp_Pnt(*at), gp_Dir(*along))


def cut(shape: TopoDS_Shape, *tools: TopoDS_Shape) -> TopoDS_Shape:
    for tool in tools:
        shape = BRepAlgoAPI_Cut(shape, tool).Shape()
    return shape


def bracket() -> TopoDS_Shape:
    """BK-104: a pocket with corners of 5 mm, and two counterbored holes for M6 (ISO 273 medium: 6.6 mm)."""
    holes = [one for y in (18.0, -18.0) for one in (*hole(6.6, 20.0, (28.0, y, 0.0)), *hole(11.0, 6.5, (28.0, y, 0.0)))]
    return cut(block(80.0, 60.0, 20.0), block(44.0, 28.0, 8.0, corner_radius=5.0, at=(-12.0, 0.0, 0.0)), *holes)


def cover() -> TopoDS_Shape:
    """CV-220: a plate with a bore of 40 mm and six clearance holes for M6 on a circle of 70 mm."""
    angles = [math.radians(60 * n) for n in range(6)]
    circle = [one for a in angles for one in hole(6.6, 12.0, (35.0 * math.cos(a), 35.0 * math.sin(a), 0.0))]
    return cut(block(100.0, 100.0, 12.0, corner_radius=10.0), *hole(40.0, 12.0, (0.0, 0.0, 0.0)), *circle)


def manifold() -> TopoDS_Shape:
    """MB-31: two ports of 12 mm, a deep 5 mm hole below each, and a cross hole of 8 mm that joins them."""
    ports = [
        one
        for x in (18.0, -18.0)
        for one in (
            *hole(12.0, 12.0, (x, 0.0, 0.0)),
            *hole(5.0, 34.0, (x, 0.0, 0.0), point_angle=118.0),
        )
    ]
    cross = hole(8.0, 52.0, (30.0, 0.0, -26.0), along=(-1.0, 0.0, 0.0), point_angle=140.0)
    return cut(block(60.0, 50.0, 40.0), *ports, *cross)


def write(shape: TopoDS_Shape, name: str) -> Path:
    """Write a STEP file whose bytes are the same each time: the time of writing is left out."""
    writer = STEPControl_Writer()
    Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetCVal_s("write.step.product.name", name)
    writer.Transfer(shape, STEPControl_AsIs)
    path = FOLDER / f"{name}.step"
    writer.Write(str(path))
    text = re.sub(
        r"FILE_NAME\(.*?\);", f"FILE_NAME('{name}','',(''),(''),'','','');", path.read_text(), flags=re.DOTALL
    )
    path.write_text(text)
    return path


PARTS = {"BK-104": bracket, "CV-220": cover, "MB-31": manifold}

if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for part_name, make in PARTS.items():
        write(make(), part_name)
