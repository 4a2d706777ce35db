"""Volumes of recesses from the faces round them, so that roughing minutes need no box.

Over a floor: each face below the lid adds its shadow on the floor, times its depth, which is exact for planes and
cones (by their centroid), and for the rounded transitions of a floor to upright walls (by their section). Without a
floor: the theorem of divergence in the plane gives the section from the walls alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import pi, sin

from shopflow.core.solid.graph import Edge, Face, Graph, Vector, cross, dot, minus, sub

LEVEL = 0.999
"""A plane whose normal lies along the way up as closely is a floor, or the top of an island."""


def over_floor(
    graph: Graph, floor: Sequence[int], walls: Sequence[int], islands: Sequence[int], depth_mm: float
) -> float:
    """Volume from a floor up to the lid over its walls, mm³: without its islands, over the mouths of what goes deeper.

    floor, walls, islands: numbers of faces. depth_mm: from the floor to the lid.
    """
    up = graph.faces[floor[0]].normal
    level = dot(graph.faces[floor[0]].origin, up)
    lid = level + depth_mm
    tops = _island_tops(graph, islands, up, (level, lid))
    whole = sum(_under_lid(graph, face, up, lid) for face in (*floor, *tops))
    whole += sum(_drafted(graph.faces[face], up, lid) for face in (*walls, *islands))
    return whole + sum(_rounded(graph, face, up, depth_mm) for face in floor)


def floor_area(graph: Graph, floor: Sequence[int]) -> float:
    """Area of a floor with the mouths of what goes deeper in it, mm²."""
    return sum(graph.faces[face].area + _mouths(graph, face) for face in floor)


def between_walls(walls: Iterable[Face], up: Vector, open_at: Vector) -> float:
    """Volume between upright walls of one height, mm³. open_at: a point of the plane where they are open, if they are.

    Twice the section is the boundary's integral of x · n; a plane through open_at adds nothing to it.
    """
    twice = 0.0
    for wall in walls:
        from_here = _across(sub(wall.centre, open_at), up)
        if wall.kind == "cylinder":
            to_axis = _across(sub(wall.origin, open_at), up)
            off_axis = sub(from_here, to_axis)
            outside = dot(to_axis, off_axis) / wall.radius + wall.radius
            twice += wall.area * (outside if wall.concave else -outside)
        else:
            twice -= wall.area * dot(from_here, wall.normal)
    return max(twice / 2, 0.0)


def _across(a: Vector, up: Vector) -> Vector:
    high = dot(a, up)
    return (a[0] - high * up[0], a[1] - high * up[1], a[2] - high * up[2])


def _under_lid(graph: Graph, index: int, up: Vector, lid: float) -> float:
    """Over a level face; what goes deeper in it leaves its mouth to this one."""
    face = graph.faces[index]
    return (face.area + _mouths(graph, index)) * max(lid - dot(face.origin, up), 0.0)


def _mouths(graph: Graph, index: int) -> float:
    """Area inside the inner boundaries at which the material falls away, mm²."""
    inner = [edge for edge in graph.edges_of[index] if not edge.is_outer_of(index) and edge.is_convex]
    up = graph.faces[index].normal
    return abs(sum(_swept(edge, index, up) for edge in inner))


def _swept(edge: Edge, index: int, up: Vector) -> float:
    """Area between an edge and the origin, as its face runs round it; of other curves by their two chords."""
    forward = edge.direction if edge.faces[0] == index else minus(edge.direction)
    start, middle, end = edge.start, edge.middle, edge.end
    along = cross(edge.axis, sub(middle, edge.centre)) if edge.kind == "circle" else sub(end, start)
    if dot(along, forward) < 0:
        start, end = end, start
    chords = (dot(cross(start, middle), up) + dot(cross(middle, end), up)) / 2
    if edge.kind != "circle":
        return chords
    half = edge.length / edge.radius / 2
    beside = edge.radius**2 * (half - sin(half))
    outwards = sub(middle, edge.centre)
    return chords + beside * (1.0 if dot(cross(outwards, forward), up) > 0 else -1.0)


def _island_tops(graph: Graph, islands: Sequence[int], up: Vector, between: tuple[float, float]) -> list[int]:
    """Level faces on islands that end below the lid."""
    tops = {
        beyond.index
        for wall in islands
        for edge, beyond in graph.neighbours(wall)
        if edge.is_convex and beyond.kind == "plane" and dot(beyond.normal, up) > LEVEL
    }
    low, lid = between
    return sorted(face for face in tops if low < dot(graph.faces[face].origin, up) < lid)


def _drafted(wall: Face, up: Vector, lid: float) -> float:
    """Over a wall that leans outwards; one that overhangs takes away."""
    if wall.kind not in ("plane", "cone"):
        return 0.0
    return wall.area * dot(wall.normal, up) * max(lid - dot(wall.centre, up), 0.0)


def _rounded(graph: Graph, floor: int, up: Vector, depth: float) -> float:
    """Over the transitions from a floor to its walls: a quarter of a circle, swept along the wall or round a corner."""
    whole = 0.0
    for edge, beyond in graph.neighbours(floor):
        if edge.is_smooth and beyond.concave and beyond.kind in ("cylinder", "torus"):
            whole += (
                _along(beyond, depth)
                if beyond.kind == "cylinder"
                else _around(beyond, depth, 1.0 if edge.is_outer_of(floor) else -1.0)
            )
    return whole


def _along(blend: Face, depth: float) -> float:
    r = blend.radius
    return blend.area / (pi / 2 * r) * (r * depth - r * r * (1 - pi / 4))


def _around(blend: Face, depth: float, way: float) -> float:
    """A quarter of a tube round an upright axis. way: 1 where it lies outside of the tube's middle, −1 inside."""
    r, big = blend.radius, blend.big_radius
    turned = blend.area / (r * (big * pi / 2 + way * r))
    return turned * ((depth - r) * (big * r + way * r * r / 2) + big * pi * r * r / 4 + way * r**3 / 3)
