"""How far a round face reaches along its axis, where its rim is no circle: a hole that opens in a slope.

The parameter box that the library gives is that of a curve's control points, which lie outside the curve.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Line
from OCP.TopAbs import TopAbs_EDGE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

from shopflow.core.solid.graph import Vector, dot, sub

_SAMPLES = 48
"""Along one edge; between neighbours the extreme is then searched for."""
_STEPS = 15
"""Each leaves two thirds of the stretch, in the end a four-hundredth: where a value is flat, that is nothing of it."""
_SAME_WAY = 1 - 1e-12


def reach(face: Any, origin: Vector, axis: Vector, box: tuple[float, float]) -> tuple[float, float]:
    """Lowest and highest place of the face along its axis from the origin, mm; the box where its rims are circles."""
    curves = _rims(face)
    if all(curve.GetType() in (GeomAbs_Line, GeomAbs_Circle) for curve in curves):
        return box

    ends = [_ends(curve, origin, axis) for curve in curves]
    return max(min(low for low, _ in ends), box[0]), min(max(high for _, high in ends), box[1])


def _rims(face: Any) -> list[Any]:
    """The curves of its edges, without those that are shrunk to a point."""
    explorer, found = TopExp_Explorer(face, TopAbs_EDGE), []
    while explorer.More():
        edge = TopoDS.Edge(explorer.Current())
        if not BRep_Tool.Degenerated_s(edge):
            found.append(BRepAdaptor_Curve(edge))
        explorer.Next()
    return found


def _ends(curve: Any, origin: Vector, axis: Vector) -> tuple[float, float]:
    """The least and the most place of a curve along the axis."""

    def place(parameter: float) -> float:
        point: Vector = curve.Value(parameter).Coord()
        return dot(sub(point, origin), axis)

    first, last = curve.FirstParameter(), curve.LastParameter()
    if curve.GetType() == GeomAbs_Line or _is_round_about(curve, axis):
        return min(place(first), place(last)), max(place(first), place(last))
    at = [first + (last - first) * n / _SAMPLES for n in range(_SAMPLES + 1)]
    places = [place(parameter) for parameter in at]
    lowest, highest = places.index(min(places)), places.index(max(places))
    return _searched(place, at, lowest), -_searched(lambda parameter: -place(parameter), at, highest)


def _is_round_about(curve: Any, axis: Vector) -> bool:
    """A circle square to the axis lies at one place."""
    if curve.GetType() != GeomAbs_Circle:
        return False
    way = curve.Circle().Axis().Direction()
    return abs(dot((way.X(), way.Y(), way.Z()), axis)) > _SAME_WAY


def _searched(value: Callable[[float], float], at: Sequence[float], best: int) -> float:
    """The least value near the best sample, by thirds between its neighbours."""
    low, high = at[max(best - 1, 0)], at[min(best + 1, len(at) - 1)]
    for _ in range(_STEPS):
        third = (high - low) / 3
        low, high = (low, high - third) if value(low + third) < value(high - third) else (low + third, high)
    return min(value((low + high) / 2), value(at[best]))
