"""Groups plane faces by the way they look and by their height."""

from __future__ import annotations

from shopflow.core.solid.graph import Face, Graph, Vector, dot, norm, sub
from shopflow.core.solid.values import Level, PlaneGroup

SAME_DIRECTION = 0.001
SAME_LEVEL_MM = 0.005


def find(graph: Graph) -> list[PlaneGroup]:
    """Plane faces by direction, the largest area first; levels from high to low."""
    groups: list[tuple[Vector, list[Face]]] = []
    for face in graph.of_kind("plane"):
        home = next((faces for way, faces in groups if norm(sub(way, face.normal)) < SAME_DIRECTION), None)
        if home is None:
            groups.append((face.normal, [face]))
        else:
            home.append(face)
    made = (_group(way, faces) for way, faces in groups)
    return sorted(made, key=lambda group: -group.area_mm2)


def _group(way: Vector, faces: list[Face]) -> PlaneGroup:
    levels: list[tuple[float, list[Face]]] = []
    for face in sorted(faces, key=lambda face: -dot(face.origin, way)):
        height = dot(face.origin, way)
        if levels and levels[-1][0] - height < SAME_LEVEL_MM:
            levels[-1][1].append(face)
        else:
            levels.append((height, [face]))
    made = tuple(Level(height, sum(f.area for f in found), tuple(f.index for f in found)) for height, found in levels)
    return PlaneGroup(way, sum(face.area for face in faces), made)
