"""Solids of Open CASCADE as a plain `Graph` of faces and edges."""

from __future__ import annotations

import math
from typing import Any

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Curve2d, BRepAdaptor_Surface
from OCP.BRepTools import BRepTools
from OCP.collections import IndexedMap_TopoDS_Shape_TopTools_ShapeMapHasher as ShapeMap
from OCP.GCPnts import GCPnts_AbscissaPoint
from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Line, GeomAbs_Plane
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED, TopAbs_WIRE
from OCP.TopoDS import TopoDS

from shopflow.core.solid.graph import Edge, Face, Graph, Vector, angle_deg, cross, dot, minus, norm, unit
from shopflow.core.solid.occ.load import children
from shopflow.core.solid.occ.surfaces import at, describe, xyz

_SIDES = (0.5, 0.37, 0.71)
"""Where along an edge the turn is measured; the first place where both faces have a normal counts."""


def face_count(solid: Any) -> int:
    return len(children(solid, TopAbs_FACE))


def first_faces(solids: list[Any]) -> list[int]:
    """Number of each solid's first face, when faces are counted through all solids."""
    counts = [face_count(solid) for solid in solids]
    return [sum(counts[:place]) for place in range(len(counts))]


def build(solids: list[Any], fit_mm: float, *, solid_numbers: list[int] | None = None) -> Graph:
    """The graph of these solids. fit_mm: tolerance for general surfaces; solid_numbers: what each solid is called."""
    faces: dict[int, Face] = {}
    edges: list[Edge] = []
    for place, (solid, first) in enumerate(zip(solids, first_faces(solids), strict=True)):
        number = solid_numbers[place] if solid_numbers else place
        shapes = [TopoDS.Face(shape) for shape in children(solid, TopAbs_FACE)]
        for offset, shape in enumerate(shapes):
            faces[first + offset] = describe(shape, first + offset, number, fit_mm)
        edges += _Edges(shapes, first).build(solid, len(edges))
    return Graph(faces, tuple(edges))


class _Edges:
    """Finds which two faces meet at each edge of one solid, and how."""

    def __init__(self, shapes: list[Any], first: int) -> None:
        self.shapes, self.first = shapes, first
        self.surfaces = [BRepAdaptor_Surface(shape) for shape in shapes]
        self.flat: dict[int, Vector] = {}
        """Outward normals of plane faces, the same all over."""
        self.uses: dict[int, list[tuple[int, Any, bool]]] = {}

    def build(self, solid: Any, count: int) -> list[Edge]:
        numbers = ShapeMap()
        for place, face in enumerate(self.shapes):
            self._note(place, face, numbers)
        pairs = (uses for uses in self.uses.values() if len(uses) == 2 and uses[0][0] != uses[1][0])
        made = (self._edge(uses, count + number) for number, uses in enumerate(pairs))
        return [edge for edge in made if edge]

    def _note(self, place: int, face: Any, numbers: Any) -> None:
        wires = children(face, TopAbs_WIRE)
        outer = BRepTools.OuterWire_s(face) if len(wires) > 1 else None
        for wire in wires:
            is_outer = outer is None or wire.IsSame(outer)
            for edge in children(wire, TopAbs_EDGE):
                if not BRep_Tool.Degenerated_s(TopoDS.Edge(edge)):
                    number = numbers.Add(edge)
                    self.uses.setdefault(number, []).append((place, TopoDS.Edge(edge), is_outer))

    def _edge(self, uses: list[tuple[int, Any, bool]], number: int) -> Edge | None:
        (place, shape, outer), (other, other_shape, other_outer) = uses
        curve = BRepAdaptor_Curve(shape)
        first, last = curve.FirstParameter(), curve.LastParameter()
        if not (math.isfinite(first) and math.isfinite(last)):
            return None
        turn, normals, along = 0.0, ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)), (0.0, 0.0, 0.0)
        for share in _SIDES:
            where = first + share * (last - first)
            normals = (self._normal(place, shape, where), self._normal(other, other_shape, where))
            along = _tangent(curve, where, shape)
            if norm(normals[0]) and norm(normals[1]) and norm(along):
                turn = _turn(normals, along)
                break
        kind, length, circle = _kind(curve)
        ends = [xyz(curve.Value(where)) for where in (first, (first + last) / 2, last)]
        return Edge(
            index=number,
            faces=(self.first + place, self.first + other),
            kind=kind,
            length=length,
            turn_deg=turn,
            start=ends[0],
            middle=ends[1],
            end=ends[2],
            direction=along,
            normals=normals,
            outer=(outer, other_outer),
            radius=float(circle.Radius()) if circle else 0.0,
            centre=xyz(circle.Location()) if circle else (0.0, 0.0, 0.0),
            axis=xyz(circle.Axis().Direction()) if circle else (0.0, 0.0, 1.0),
        )

    def _normal(self, place: int, edge: Any, where: float) -> Vector:
        """Outward normal of a face at a parameter of its edge."""
        if place in self.flat:
            return self.flat[place]
        face, surface = self.shapes[place], self.surfaces[place]
        sign = -1.0 if face.Orientation() == TopAbs_REVERSED else 1.0
        if surface.GetType() == GeomAbs_Plane:
            return self.flat.setdefault(place, at(surface, 0.0, 0.0, sign)[1])
        spot = BRepAdaptor_Curve2d(edge, face).Value(where)
        return at(surface, spot.X(), spot.Y(), sign)[1]


def _tangent(curve: Any, where: float, edge: Any) -> Vector:
    """Direction of the edge as its face runs round it: the face lies to the left, seen from outside."""
    point, tangent = gp_Pnt(), gp_Vec()
    curve.D1(where, point, tangent)
    along = unit(xyz(tangent)) if tangent.Magnitude() > 1e-12 else (0.0, 0.0, 0.0)
    return minus(along) if edge.Orientation() == TopAbs_REVERSED else along


def _turn(normals: tuple[Vector, Vector], along: Vector) -> float:
    """Signed angle between the faces: positive when the second face falls away from the first (an outside corner)."""
    into_first = cross(normals[0], along)
    turn = angle_deg(*normals)
    return turn if dot(into_first, normals[1]) <= 0 else -turn


def _kind(curve: Any) -> tuple[str, float, Any]:
    """Kind and length of an edge's curve, and the circle that it is, if it is one."""
    first, last = curve.FirstParameter(), curve.LastParameter()
    if curve.GetType() == GeomAbs_Line:
        return "line", abs(last - first), None
    if curve.GetType() == GeomAbs_Circle:
        circle = curve.Circle()
        return "circle", abs(last - first) * float(circle.Radius()), circle
    return "curve", float(GCPnts_AbscissaPoint.Length_s(curve)), None
