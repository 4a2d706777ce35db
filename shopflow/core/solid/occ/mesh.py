"""Triangle mesh and drawn edges of solids, out of Open CASCADE's incremental mesher."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain
from operator import methodcaller
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeMap
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS

from shopflow.core.solid.mesh import Mesh
from shopflow.core.solid.occ.load import children

ANGLE_RAD = 0.35
"""Largest turn between neighbouring facets, about 20 degrees."""


def tessellate(solids: list[Any], first_face: list[int], deflection_mm: float, angle_rad: float = ANGLE_RAD) -> Mesh:
    """Mesh the solids. first_face: number of each solid's first face; deflection_mm: to the surface."""
    points: list[NDArray[np.float64]] = []
    triangles: list[NDArray[np.int64]] = []
    faces: list[NDArray[np.int32]] = []
    polylines: list[NDArray[np.float64]] = []
    count = 0
    for solid, first in zip(solids, first_face, strict=True):
        BRepMesh_IncrementalMesh(solid, deflection_mm, False, angle_rad, False)
        drawn = ShapeMap()
        for offset, shape in enumerate(children(solid, TopAbs_FACE)):
            face_points, face_triangles = _face(shape, drawn, polylines)
            points.append(face_points)
            triangles.append(face_triangles + count)
            faces.append(np.full(len(face_triangles), first + offset, np.int32))
            count += len(face_points)
    return _packed(points, triangles, faces, polylines)


def _packed(points: list[Any], triangles: list[Any], faces: list[Any], polylines: list[Any]) -> Mesh:
    starts = np.concatenate([[0], np.cumsum([len(line) for line in polylines])])
    return Mesh(
        np.concatenate([np.zeros((0, 3)), *points]).astype(np.float32),
        np.concatenate([np.zeros((0, 3)), *triangles]).astype(np.uint32),
        np.concatenate([np.zeros(0), *faces]).astype(np.int32),
        starts.astype(np.uint32),
        np.concatenate([np.zeros((0, 3)), *polylines]).astype(np.float32),
    )


def _face(shape: Any, drawn: Any, polylines: list[Any]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Points and triangles of one face, counted from 0; adds the polylines of its edges that are not drawn yet."""
    face, location = TopoDS.Face(shape), TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, location)
    if mesh is None:
        return np.zeros((0, 3)), np.zeros((0, 3), np.int64)
    points = _placed(_table(map(mesh.Node, range(1, mesh.NbNodes() + 1)), "Coord", np.float64), location)
    triangles = _table(map(mesh.Triangle, range(1, mesh.NbTriangles() + 1)), "Get", np.int64) - 1
    if face.Orientation() == TopAbs_REVERSED:
        triangles = triangles[:, ::-1]
    for edge in children(face, TopAbs_EDGE):
        if not BRep_Tool.IsClosed_s(TopoDS.Edge(edge), face):  # a seam is no edge of the part
            _draw(TopoDS.Edge(edge), mesh, location, points, drawn, polylines)
    return points, triangles


def _draw(edge: Any, mesh: Any, location: Any, points: Any, drawn: Any, polylines: list[Any]) -> None:
    size = drawn.Extent()
    if drawn.Add(edge) <= size or BRep_Tool.Degenerated_s(edge):
        return
    polygon = BRep_Tool.PolygonOnTriangulation_s(edge, mesh, location)
    if polygon is not None:
        polylines.append(points[np.fromiter(map(polygon.Node, range(1, polygon.NbNodes() + 1)), np.int64) - 1])


def _table(things: Iterable[Any], said: str, kind: Any) -> Any:
    """Three numbers of each thing, said by the method of that name, as rows: one pass, without lists in between."""
    numbers = chain.from_iterable(map(methodcaller(said), things))
    return np.fromiter(numbers, kind).reshape(-1, 3)


def _placed(points: NDArray[np.float64], location: Any) -> NDArray[np.float64]:
    """Points moved to where the face is."""
    if location.IsIdentity():
        return points
    placed = location.Transformation()
    matrix = np.array([[placed.Value(row, column) for column in range(1, 5)] for row in range(1, 4)])
    moved: NDArray[np.float64] = points @ matrix[:, :3].T + matrix[:, 3]
    return moved
