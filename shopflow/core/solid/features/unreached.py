"""Finds faces that no setup sees: undercuts and closed cavities."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.graph import Face, Graph, Vector, add, dot, minus
from shopflow.core.solid.values import Hole

_OFF_MM = 0.02
_GRAZING = -0.01


def find(graph: Graph, directions: Sequence[Vector], sight: Sight) -> list[int]:
    """Faces whose middle is in sight from none of the directions."""
    return [face.index for face in graph.faces.values() if not _is_seen(face, directions, sight)]


def enclosed(graph: Graph, faces: Iterable[int], sight: Sight) -> list[int]:
    """The round inside walls among these faces that are not seen along their own axis either: a groove in a bore."""
    walls = (graph.faces[index] for index in faces)
    return [
        face.index
        for face in walls
        if face.kind == "cylinder" and face.concave and not _is_seen(face, (face.axis, minus(face.axis)), sight)
    ]


def outside_holes(faces: Iterable[int], holes: Iterable[Hole], closed_in: Collection[int]) -> tuple[int, ...]:
    """These faces without those of holes that a tool reaches along their own axis, whatever that is.

    closed_in: faces that belong to a hole and are not seen along its axis (`enclosed`); they stay.
    """
    seen = {face for hole in holes if hole.reach for face in hole.faces} - set(closed_in)
    return tuple(face for face in faces if face not in seen)


def _is_seen(face: Face, directions: Sequence[Vector], sight: Sight) -> bool:
    spot, normal = sight.middle_of(face.index), sight.normal_of(face.index)
    if spot is None or normal is None:
        return True  # without a triangle there is nothing to see
    start = add(spot, normal, _OFF_MM)
    open_ways = sorted((way for way in directions if dot(way, normal) > _GRAZING), key=lambda way: -dot(way, normal))
    return any(sight.line_is_clear(start, way) for way in open_ways)
