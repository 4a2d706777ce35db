"""Finds round studs that stand on a plane face."""

from __future__ import annotations

from shopflow.core.solid.features.axes import Band, shared_axes
from shopflow.core.solid.graph import Face, Graph, cross, dot, minus, norm
from shopflow.core.solid.values import Boss


def find(graph: Graph) -> list[Boss]:
    """Whole outside cylinders with a plane at their foot, sharp or rounded."""
    outside = [face for face in graph.of_kind("cylinder", "cone") if not face.concave]
    found = []
    for axis in shared_axes(outside):
        for band in axis.bands:
            foot = _foot(graph, band) if band.kind == "cylinder" and band.is_full else None
            if foot:
                up = axis.direction if dot(foot.normal, axis.direction) > 0 else minus(axis.direction)
                level = axis.height(foot.origin)
                top = band.high if up is axis.direction else band.low
                faces = tuple(sorted(band.faces))
                solid = graph.faces[faces[0]].solid
                found.append(Boss(solid, 2 * band.radius, abs(top - level), up, axis.at(level), faces))
    return found


def _foot(graph: Graph, band: Band) -> Face | None:
    """The plane that a stud stands on, square to its axis, behind an inside corner or an inside fillet."""
    axis = graph.faces[band.faces[0]].axis
    for index in band.faces:
        for edge, beyond in graph.neighbours(index):
            if edge.is_concave and _is_square(beyond, axis):
                return beyond
            if edge.is_smooth and beyond.kind == "torus" and beyond.concave:
                for _, ground in graph.neighbours(beyond.index):
                    if _is_square(ground, axis):
                        return ground
    return None


def _is_square(face: Face, axis: tuple[float, float, float]) -> bool:
    return face.kind == "plane" and norm(cross(face.normal, axis)) < 0.01
