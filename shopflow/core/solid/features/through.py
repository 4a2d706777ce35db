"""Finds openings without a floor that are no holes: windows through a wall, and slots that run out of an edge."""

from __future__ import annotations

from collections.abc import Collection

from shopflow.core.solid.features import volume
from shopflow.core.solid.features.extent import extent, facing_gap, heights
from shopflow.core.solid.features.pockets import LEAST_CORNER_DEG, is_wall
from shopflow.core.solid.graph import Face, Graph, Vector, add, cross, dot, minus, norm
from shopflow.core.solid.values import Pocket

_SAME_WAY = 0.999
_HALF_TURN_DEG = 170.0


def windows(graph: Graph, taken: Collection[int]) -> list[Pocket]:
    """Openings with walls all round; looked for before recesses, as a wall of one may look like a floor."""
    used = set(taken)
    found = []
    for top in sorted(graph.of_kind("plane"), key=lambda face: -face.area):
        for ring in _inner_rings(graph, top, used):
            used |= ring
            found.append(_window(graph, top.normal, ring))
    return found


def open_slots(graph: Graph, taken: Collection[int]) -> list[Pocket]:
    """Slots with a full round end and no floor that run out of an edge of the part."""
    used = set(taken)
    found = []
    for end in graph.of_kind("cylinder"):
        walls = _open_slot(graph, end, used)
        if walls:
            used |= {end.index, *walls}
            found.append(_slot(graph, end, walls))
    return found


def _inner_rings(graph: Graph, top: Face, used: Collection[int]) -> list[set[int]]:
    """Rings of walls that go down from inner boundaries of a face and come out on a face that looks the other way."""
    starts = {
        beyond.index
        for edge, beyond in graph.neighbours(top.index)
        if not edge.is_outer_of(top.index) and edge.is_convex and is_wall(beyond, top.normal)
    }
    rings = []
    while starts:
        ring = _connected_walls(graph, starts.pop(), top.normal)
        starts -= ring
        if not ring & set(used) and _comes_out(graph, ring, top.normal) and _is_hollow(graph, ring):
            rings.append(ring)
    return rings


def _connected_walls(graph: Graph, start: int, up: Vector) -> set[int]:
    """Walls joined to one another by upright edges."""
    ring, open_ends = {start}, [start]
    while open_ends:
        for edge, beyond in graph.neighbours(open_ends.pop()):
            is_upright = norm(cross(edge.direction, up)) < 0.2
            if beyond.index not in ring and is_upright and is_wall(beyond, up):
                ring.add(beyond.index)
                open_ends.append(beyond.index)
    return ring


def _comes_out(graph: Graph, ring: set[int], up: Vector) -> bool:
    """Whether the ring ends below at outside edges of faces that look down, and nowhere in a floor."""
    beyond = [(edge, face) for wall in ring for edge, face in graph.neighbours(wall) if face.index not in ring]
    ends_in_a_corner = any(edge.is_concave for edge, _ in beyond)
    return not ends_in_a_corner and any(dot(face.normal, up) < -_SAME_WAY for _, face in beyond)


def _is_hollow(graph: Graph, ring: set[int]) -> bool:
    """A window's walls turn inwards round the opening; those of a column standing in a frame would turn outwards."""
    return any(graph.faces[wall].concave for wall in ring) or any(
        edge.turn_deg < -LEAST_CORNER_DEG for wall in ring for edge in graph.edges_of[wall] if edge.other(wall) in ring
    )


def _window(graph: Graph, up: Vector, ring: set[int]) -> Pocket:
    walls = [graph.faces[wall] for wall in sorted(ring)]
    flat = [wall for wall in walls if wall.kind == "plane"]
    corners = {
        edge.index
        for wall in ring
        for edge in graph.edges_of[wall]
        if edge.other(wall) in ring and edge.turn_deg < -LEAST_CORNER_DEG
    }
    along = cross(up, max(flat, key=lambda wall: wall.area).normal) if flat else cross(up, walls[0].normal)
    return _floorless(graph, walls, up, along, len(corners), closed=True, open_ways=())


def _open_slot(graph: Graph, end: Face, used: Collection[int]) -> list[int]:
    """The two facing walls that a half round end runs on into, when it is the end of an open slot."""
    if end.index in used or not end.concave or not _HALF_TURN_DEG < end.span_deg < 190.0:
        return []
    sides = [
        beyond
        for edge, beyond in graph.neighbours(end.index)
        if edge.is_smooth and beyond.kind == "plane" and beyond.index not in used
    ]
    facing = len(sides) == 2 and dot(sides[0].normal, sides[1].normal) < -_SAME_WAY
    return [side.index for side in sides] if facing else []


def _slot(graph: Graph, end: Face, walls: list[int]) -> Pocket:
    faces = [end, *(graph.faces[wall] for wall in walls)]
    up = end.axis if end.axis[2] >= 0 else minus(end.axis)
    along = cross(up, faces[1].normal)
    outwards = along if dot(along, faces[1].centre) > dot(along, end.origin) else minus(along)
    return _floorless(graph, faces, up, along, 0, closed=False, open_ways=(outwards,))


def _floorless(
    graph: Graph,
    walls: list[Face],
    up: Vector,
    along: Vector,
    corners: int,
    *,
    closed: bool,
    open_ways: tuple[Vector, ...],
) -> Pocket:
    numbers = [wall.index for wall in walls]
    width = facing_gap(graph, walls)
    tops = heights(graph, numbers, up)
    depth = max(tops) - min(tops)
    radii = [wall.radius for wall in walls if wall.kind == "cylinder" and wall.concave]
    middle = [sum(wall.centre[axis] for wall in walls) / len(walls) for axis in range(3)]
    return Pocket(
        solid=walls[0].solid,
        kind="through pocket" if closed else "slot",
        closed=closed,
        depth_mm=depth,
        width_mm=width,
        length_mm=extent(graph, numbers, along),
        radius_mm=min(radii) if radii else None,
        sharp_corners=corners,
        floor_radius_mm=0.0,
        axis=up,
        position_mm=(middle[0], middle[1], middle[2]),
        depth_to_width=depth / width if width else None,
        reach=(up, minus(up), *open_ways),
        faces=tuple(sorted(numbers)),
        volume_mm3=volume.between_walls(walls, up, _opening(graph, walls, open_ways)),
        floor_mm2=0.0,
        wall_mm2=sum(wall.area for wall in walls),
    )


def _opening(graph: Graph, walls: list[Face], open_ways: tuple[Vector, ...]) -> Vector:
    """A point of the plane up to which the walls of an open slot reach; any point where they go all round."""
    if not open_ways:
        return walls[0].centre
    way = open_ways[0]
    return add((0.0, 0.0, 0.0), way, max(heights(graph, [wall.index for wall in walls], way)))
