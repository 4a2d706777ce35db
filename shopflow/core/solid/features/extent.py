"""How far faces reach, from what their edges reach."""

from __future__ import annotations

from collections.abc import Iterable

from shopflow.core.solid.graph import Face, Graph, Vector, add, dot, norm, sub, unit

FACING = -0.98
"""Cosine between the normals of walls that face each other, about 168 degrees or more."""


def heights(graph: Graph, faces: Iterable[int], along: Vector) -> list[float]:
    """Places of the faces' edge points along a direction."""
    way = unit(along)
    return [height for face in faces for edge in graph.edges_of[face] for height in edge.heights(way)]


def extent(graph: Graph, faces: Iterable[int], along: Vector) -> float:
    """Size of the faces along a direction, mm."""
    found = heights(graph, faces, along)
    return max(found) - min(found) if found else 0.0


def facing_gap(graph: Graph, walls: list[Face]) -> float | None:
    """Smallest distance between two plane walls that look at each other and overlap; None when none do."""
    flat = [wall for wall in walls if wall.kind == "plane"]
    gaps = [
        gap for i, one in enumerate(flat) for other in flat[i + 1 :] if (gap := _gap(graph, one, other)) is not None
    ]
    return min(gaps, default=None)


def _gap(graph: Graph, one: Face, other: Face) -> float | None:
    if dot(one.normal, other.normal) > FACING:
        return None
    between = sub(other.centre, one.centre)
    gap = dot(between, one.normal)
    if gap <= 0:  # back to back: a rib between two recesses
        return None
    sideways = add(between, one.normal, -gap)
    way = unit(sideways) if norm(sideways) > 1e-6 else None
    return gap if way is None or _overlap(graph, one, other, way) else None


def _overlap(graph: Graph, one: Face, other: Face, way: Vector) -> bool:
    a, b = heights(graph, [one.index], way), heights(graph, [other.index], way)
    return min(max(a), max(b)) > max(min(a), min(b))
