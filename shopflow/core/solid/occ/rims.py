"""How far a round face reaches along its axis, where its rim is no circle: a hole that opens in a slope.

The parameter box that the library gives is that of a curve's control points, which lie outside the curve.
"""

from __future__ import annotations

from collections.abc import Callable
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
_STEPS = 40
"""Each leaves two thirds of the stretch, 1e-7 of it in the end."""


def reach(face: Any, origin: Vector, axis: Vector, box: tuple[float, float]) -> tuple[float, float]:
    """Lowest and highest place of the face along its axis from the origin, mm; the box where its rims are circles."""
    curves = _rims(face)
    if all(curve.GetType() in (GeomAbs_Line, GeomAbs_Circle) for curve in curves):
        return box

    low = min(_least(curve, lambda at: dot(sub(at, origin), axis)) for curve in curves)
    high = -min(_least(curve, lambda at: -dot(sub(at, origin), axis)) for curve in curves)
    return max(low, box[0]), min(high, box[1])


def _rims(face: Any) -> list[Any]:
    """The curves of its edges, without those that are shrunk to a point."""
    explorer, found = TopExp_Explorer(face, TopAbs_EDGE), []
    while explorer.More():
        edge = TopoDS.Edge(explorer.Current())
        if not BRep_Tool.Degenerated_s(edge):
            found.append(BRepAdaptor_Curve(edge))
        explorer.Next()
    return found


def _least(curve: Any, value: Callable[[Vector], float]) -> float:
    """The least value on a curve: of samples, then by thirds between the neighbours of the best one."""

    def at(parameter: float) -> float:
        point: Vector = curve.Value(parameter).Coord()
        return value(point)

    first, last = curve.FirstParameter(), curve.LastParameter()
    step = (last - first) / _SAMPLES
    best = min(range(_SAMPLES + 1), key=lambda n: at(first + n * step))
    low, high = first + max(best - 1, 0) * step, first + min(best + 1, _SAMPLES) * step
    for _ in range(_STEPS):
        third = (high - low) / 3
        low, high = (low, high - third) if at(low + third) < at(high - third) else (low + third, high)
    return min(at((low + high) / 2), at(first), at(last))
