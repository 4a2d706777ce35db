"""Finds faces that no setup sees: undercuts and closed cavities."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.graph import Face, Graph, Vector, add, dot
from shopflow.core.solid.values import Hole

_OFF_MM = 0.02
_GRAZING = -0.01


def find(graph: Graph, holes: Iterable[Hole], directions: Sequence[Vector], sight: Sight) -> list[int]:
    """Faces whose middle is in sight from none of the directions; faces of a hole that a tool reaches count as seen."""
    seen = {face for hole in holes if hole.reach for face in hole.faces}
    left = (face for face in graph.faces.values() if face.index not in seen)
    return [face.index for face in left if not _is_seen(face, directions, sight)]


def _is_seen(face: Face, directions: Sequence[Vector], sight: Sight) -> bool:
    spot, normal = sight.middle_of(face.index), sight.normal_of(face.index)
    if spot is None or normal is None:
        return True  # without a triangle there is nothing to see
    start = add(spot, normal, _OFF_MM)
    open_ways = sorted((way for way in directions if dot(way, normal) > _GRAZING), key=lambda way: -dot(way, normal))
    return any(sight.line_is_clear(start, way) for way in open_ways)
