"""Finds fillets and chamfers: faces that are there to round or to break an edge between two others."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

from shopflow.core.solid.graph import Edge, Face, Graph, Vector, add, cross, dot, norm, sub
from shopflow.core.solid.values import Chamfer, Fillet

SAME_SIZE_MM = 0.01
LEAST_TURN_DEG, MOST_TURN_DEG = 14.0, 76.0
"""A chamfer turns by this much from each neighbour; less is a draft, more is a wall."""
LARGEST_SHARE = 0.5
"""A chamfer's longer leg is smaller than this share of its broader neighbour; otherwise it is a face of the part."""
_STRAIGHT = 0.01


def find_fillets(graph: Graph, taken: Collection[int]) -> list[Fillet]:
    """Rounded transitions outside the faces already taken, one for each chain of equal radius."""
    round_faces = {face.index: face for face in graph.faces.values() if _is_fillet(graph, face, taken)}
    made = []
    for group in _chains(graph, round_faces, _are_one_fillet):
        first = round_faces[group[0]]
        length = sum(_fillet_length(round_faces[index]) for index in group)
        made.append(Fillet(first.solid, first.radius, first.concave, length, tuple(sorted(group))))
    return made


def _is_fillet(graph: Graph, face: Face, taken: Collection[int]) -> bool:
    """A round face that runs on smoothly into at least two others, and is no whole turn about its own axis."""
    if face.index in taken or face.kind not in ("cylinder", "torus", "sphere"):
        return False
    if face.kind == "cylinder" and face.span_deg > 181.0:
        return False
    beyond = {other.index for edge, other in graph.neighbours(face.index) if edge.is_smooth}
    return len(beyond) >= 2 or (face.kind == "torus" and len(beyond) == 1 and _is_ring(graph, face))


def _is_ring(graph: Graph, face: Face) -> bool:
    """Whether both sides of a torus run on into one face and nothing else lies beside it: a groove, not a fillet."""
    return all(edge.is_smooth for edge in graph.edges_of[face.index])


def _are_one_fillet(edge: Edge, one: Face, other: Face) -> bool:
    return one.concave == other.concave and abs(one.radius - other.radius) < SAME_SIZE_MM


def _fillet_length(face: Face) -> float:
    """Length of the edge that a fillet face replaces; a ball corner replaces a point."""
    if face.kind == "cylinder":
        return face.high - face.low
    return math.radians(face.span_deg) * face.big_radius if face.kind == "torus" else 0.0


@dataclass(frozen=True)
class _Break:
    """A chamfer face. small, large: its legs, mm; angle: to the neighbour that carries the longer leg, degrees."""

    face: Face
    small: float
    large: float
    angle: float
    length: float


def find_chamfers(graph: Graph, taken: Collection[int]) -> list[Chamfer]:
    """Broken edges outside the faces already taken, one for each chain of equal size."""
    breaks = {found.face.index: found for found in _breaks(graph, taken)}

    def are_one(edge: Edge, one: Face, other: Face) -> bool:
        a, b = breaks[one.index], breaks[other.index]
        return abs(a.small - b.small) < SAME_SIZE_MM and abs(a.large - b.large) < SAME_SIZE_MM

    made = []
    for group in _chains(graph, {index: found.face for index, found in breaks.items()}, are_one):
        first = breaks[group[0]]
        length = sum(breaks[index].length for index in group)
        is_round = any(breaks[index].face.kind == "cone" for index in group)
        faces = tuple(sorted(group))
        made.append(Chamfer(first.face.solid, first.small, first.large, first.angle, length, is_round, faces))
    return made


def _breaks(graph: Graph, taken: Collection[int]) -> Iterable[_Break]:
    for face in graph.of_kind("plane", "cone"):
        if face.index not in taken:
            found = _flat_break(graph, face) if face.kind == "plane" else _round_break(graph, face)
            if found:
                yield found


def _is_break_turn(edge: Edge) -> bool:
    return LEAST_TURN_DEG < edge.turn_deg < MOST_TURN_DEG


def _flat_break(graph: Graph, face: Face) -> _Break | None:
    """A plane between two parallel outside edges that each turn by less than a corner does."""
    sides = [edge for edge in graph.edges_of[face.index] if edge.kind == "line" and _is_break_turn(edge)]
    pairs = [(a, b) for i, a in enumerate(sides) for b in sides[i + 1 :] if _are_opposite(a, b)]
    if not pairs or len(graph.edges_of[face.index]) > 8:
        return None
    one, other = max(pairs, key=lambda pair: pair[0].length + pair[1].length)
    width = _gap(one, other)
    total = math.radians(one.turn_deg + other.turn_deg)
    if width < 1e-6 or total > math.radians(130):
        return None
    legs = [width * math.sin(math.radians(edge.turn_deg)) / math.sin(total) for edge in (other, one)]
    breadths = [_breadth(graph, edge.other(face.index), edge) for edge in (one, other)]
    if max(legs) > LARGEST_SHARE * max(breadths):
        return None
    angle = min(one.turn_deg, other.turn_deg)
    return _Break(face, min(legs), max(legs), angle, max(one.length, other.length))


def _are_opposite(one: Edge, other: Edge) -> bool:
    """Whether two straight edges of a face are parallel and lie beside, not behind, each other."""
    if norm(cross(one.direction, other.direction)) > _STRAIGHT:
        return False
    along = one.direction
    spans = [sorted((dot(edge.start, along), dot(edge.end, along))) for edge in (one, other)]
    shared = min(spans[0][1], spans[1][1]) - max(spans[0][0], spans[1][0])
    return shared > 0.3 * min(one.length, other.length)


def _gap(one: Edge, other: Edge) -> float:
    """Distance between two parallel straight edges."""
    between = sub(other.middle, one.middle)
    return norm(add(between, one.direction, -dot(between, one.direction)))


def _breadth(graph: Graph, face: int, edge: Edge) -> float:
    """How far a face reaches away from one of its straight edges."""
    points = (point for other in graph.edges_of[face] for point in (other.start, other.middle, other.end))
    return max(_off(point, edge) for point in points)


def _off(point: Vector, edge: Edge) -> float:
    between = sub(point, edge.middle)
    return norm(add(between, edge.direction, -dot(between, edge.direction)))


def _round_break(graph: Graph, face: Face) -> _Break | None:
    """A cone between two round outside edges: the broken edge of a boss, of a turned corner, or of a bore's mouth."""
    rims = [edge for edge in graph.edges_of[face.index] if edge.kind == "circle" and _is_break_turn(edge)]
    if len({edge.other(face.index) for edge in rims}) < 2:
        return None
    radial, axial = abs(face.radius_high - face.radius_low), face.high - face.low
    small, large = sorted((radial, axial))
    if large > LARGEST_SHARE * 2 * max(face.radius_low, face.radius_high):
        return None
    angle = min(face.half_angle_deg, 90.0 - face.half_angle_deg)
    length = math.radians(face.span_deg) * (face.radius_low + face.radius_high) / 2
    return _Break(face, small, large, angle, length)


def _chains(graph: Graph, faces: dict[int, Face], are_one: Callable[[Edge, Face, Face], bool]) -> Iterable[list[int]]:
    """Faces grouped so that those which touch and are_one come together."""
    left = dict(faces)
    while left:
        start = next(iter(left))
        group, open_ends = [], [start]
        del left[start]
        while open_ends:
            here = open_ends.pop()
            group.append(here)
            for edge, beyond in graph.neighbours(here):
                if beyond.index in left and are_one(edge, faces[here], beyond):
                    del left[beyond.index]
                    open_ends.append(beyond.index)
        yield group
