"""Finds faces that no setup sees: undercuts and closed cavities."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.graph import Face, Graph, Vector, add, dot
from shopflow.core.solid.values import Hole

_OFF_MM = 0.02
_GRAZING = -0.01


def find(graph: Graph, directions: Sequence[Vector], sight: Sight) -> list[int]:
    """Faces whose middle is in sight from none of the directions."""
    return [face.index for face in graph.faces.values() if not _is_seen(face, directions, sight)]


def outside_holes(faces: Iterable[int], holes: Iterable[Hole]) -> tuple[int, ...]:
    """These faces without those of holes that a tool reaches along their own axis, whatever that is."""
    seen = {face for hole in holes if hole.reach for face in hole.faces}
    return tuple(face for face in faces if face not in seen)


def _is_seen(face: Face, directions: Sequence[Vector], sight: Sight) -> bool:
    spot, normal = sight.middle_of(face.index), sight.normal_of(face.index)
    if spot is None or normal is None:
        return True  # without a triangle there is nothing to see
    start = add(spot, normal, _OFF_MM)
    open_ways = sorted((way for way in directions if dot(way, normal) > _GRAZING), key=lambda way: -dot(way, normal))
    return any(sight.line_is_clear(start, way) for way in open_ways)
