"""Finds sharp outside edges: what has to be deburred because nothing breaks it, and from where a tool gets at it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.graph import Edge, Graph, Vector, add, dot, minus, norm, sub, unit
from shopflow.core.solid.values import Hole, PlaneGroup, SharpEdge, SharpEdges

SHARP_TURN_DEG = 30.0
"""An outside edge that turns more than this is sharp to a hand; shop's own choice, a burr forms on flatter ones too."""
BROKEN_TURN_DEG = 75.0
"""Beside a chamfer or a countersink the edge counts as broken up to this turn; a 45 degree chamfer leaves 45."""
MOST_WAYS = 8
_OFF_MM = 0.02
_SLOPE = 0.05
"""A tool has to come from outside both faces, at least by this cosine against the middle of them."""


def ways(groups: Sequence[PlaneGroup], holes: Iterable[Hole]) -> list[Vector]:
    """Directions that a setup may have: those of the largest plane faces and their opposites, then of holes."""
    found: list[Vector] = []
    for group in groups:
        _note(found, group.direction)
        _note(found, minus(group.direction))
    for hole in holes:
        _note(found, hole.axis)
    return found


def _note(found: list[Vector], way: Vector) -> None:
    if len(found) < MOST_WAYS and all(norm(sub(way, known)) > 0.01 for known in found):
        found.append(way)


def find(
    graph: Graph, breaks: Collection[int], directions: Sequence[Vector] = (), sight: Sight | None = None
) -> SharpEdges:
    """Sharp outside edges with lengths. breaks: faces that are there to break an edge (chamfers, countersinks).

    directions: where a tool may come from; which of them are free is told for each edge when sight is given.
    """
    edges = [edge for edge in graph.edges if _is_sharp(edge, breaks)]
    items = tuple(
        SharpEdge(e.index, e.length, e.turn_deg, e.middle, e.faces, _reach(e, directions, sight)) for e in edges
    )
    return SharpEdges(len(items), sum(edge.length for edge in edges), items)


def _is_sharp(edge: Edge, breaks: Collection[int]) -> bool:
    beside_a_break = any(face in breaks for face in edge.faces)
    return edge.turn_deg > (BROKEN_TURN_DEG if beside_a_break else SHARP_TURN_DEG)


def _reach(edge: Edge, directions: Sequence[Vector], sight: Sight | None) -> tuple[Vector, ...]:
    """Directions from which the middle of an edge is in sight."""
    if sight is None:
        return ()
    outwards = unit(add(edge.normals[0], edge.normals[1]))
    start = add(edge.middle, outwards, _OFF_MM)
    return tuple(way for way in directions if dot(way, outwards) > _SLOPE and sight.line_is_clear(start, way))
