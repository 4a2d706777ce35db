"""Finds recesses that are no holes: pockets, slots, steps and ring grooves, each over a plane floor."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

from shopflow.core.solid.features import volume
from shopflow.core.solid.features.extent import extent, facing_gap, heights
from shopflow.core.solid.graph import Edge, Face, Graph, Vector, cross, dot, minus, norm
from shopflow.core.solid.values import Pocket

WALL_SLOPE = 0.18
"""Sine of the largest draft of a wall, about 10 degrees."""
LEAST_CORNER_DEG = 30.0
"""Inside corners that turn less are bends of one wall, not corners."""


@dataclass
class Recess:
    """A floor, in one or more faces, with what stands round it.

    walls: along the outer boundary; islands: along inner ones. closed_share: part of the outer boundary with a wall.
    """

    floor: list[int]
    up: Vector
    area: float
    walls: list[int] = field(default_factory=list)
    islands: list[int] = field(default_factory=list)
    blends: list[int] = field(default_factory=list)
    closed_share: float = 0.0

    @property
    def rank(self) -> tuple[float, ...]:
        """The most closed floors come first, since a wall of one may look like the floor of a more open one."""
        share = self.closed_share if len(self.walls) > 1 else 0.0
        return (-round(share, 2), -len(self.walls), -self.area)

    @property
    def faces(self) -> set[int]:
        return {*self.floor, *self.walls, *self.islands, *self.blends}


def find(graph: Graph, taken: Collection[int]) -> list[Pocket]:
    """Recesses with a plane floor; taken: faces of holes and windows, which are none of these."""
    found = [recess for floor in _floors(graph, taken) if (recess := _recess(graph, floor, taken))]
    used: set[int] = set()
    pockets = []
    for recess in sorted(found, key=lambda recess: recess.rank):
        if not used & set(recess.floor):
            used |= recess.faces
            pockets.append(_described(graph, recess))
    return pockets


def _floors(graph: Graph, taken: Collection[int]) -> Iterator[list[int]]:
    """Plane faces, with those that run on level into each other as one."""
    seen = set(taken)
    for face in graph.of_kind("plane"):
        if face.index in seen:
            continue
        floor, open_ends = [], [face.index]
        seen.add(face.index)
        while open_ends:
            here = open_ends.pop()
            floor.append(here)
            for edge, beyond in graph.neighbours(here):
                if edge.is_smooth and beyond.kind == "plane" and beyond.index not in seen:
                    seen.add(beyond.index)
                    open_ends.append(beyond.index)
        yield floor


def _recess(graph: Graph, floor: list[int], taken: Collection[int]) -> Recess | None:
    """The recess over a floor, None when nothing of its own stands round it."""
    up = graph.faces[floor[0]].normal
    recess, walled, whole = Recess(floor, up, sum(graph.faces[index].area for index in floor)), 0.0, 0.0
    for index in floor:
        for edge, beyond in graph.neighbours(index):
            if beyond.index in floor:
                continue
            walls, blend = _beyond(graph, up, edge, beyond, floor)
            if not edge.is_outer_of(index):
                _extend(recess.islands, walls)
                continue
            whole += edge.length
            walled += edge.length if walls or blend is not None else 0.0
            _extend(recess.walls, walls)
            _extend(recess.blends, [] if blend is None else [blend])
    if not whole or all(wall in taken for wall in recess.walls):
        return None
    recess.closed_share = walled / whole
    return recess


def _extend(known: list[int], more: list[int]) -> None:
    known += [face for face in more if face not in known]


def _beyond(graph: Graph, up: Vector, edge: Edge, beyond: Face, floor: list[int]) -> tuple[list[int], int | None]:
    """Walls behind one edge of a floor, and the rounded transition to them, if there is one."""
    if edge.turn_deg < -LEAST_CORNER_DEG and is_wall(beyond, up):
        return [beyond.index], None
    if edge.is_smooth and beyond.concave and beyond.kind in ("cylinder", "torus", "sphere"):
        rising = [
            other.index
            for side, other in graph.neighbours(beyond.index)
            if other.index not in floor and side.is_smooth and is_wall(other, up)
        ]
        return rising, beyond.index
    return [], None


def is_wall(face: Face, up: Vector) -> bool:
    """Whether a face stands up from a floor that looks up."""
    if face.kind in ("cylinder", "cone"):
        return norm(cross(face.axis, up)) < WALL_SLOPE
    return face.kind in ("plane", "freeform") and abs(dot(face.normal, up)) < WALL_SLOPE


def _described(graph: Graph, recess: Recess) -> Pocket:
    up = recess.up
    walls = [graph.faces[index] for index in recess.walls]
    closed = recess.closed_share > 0.999
    ring = _ring_width(graph, recess)
    width = ring or facing_gap(graph, walls)
    depth = _depth(graph, recess)
    radii = [wall.radius for wall in walls if wall.kind == "cylinder" and wall.concave]
    blends = [graph.faces[index].radius for index in recess.blends]
    first = graph.faces[recess.floor[0]]
    return Pocket(
        solid=first.solid,
        kind="ring groove" if ring else _kind(walls, closed, width),
        closed=closed,
        depth_mm=depth,
        width_mm=width,
        length_mm=_length(graph, recess, walls),
        radius_mm=min(radii) if radii else None,
        sharp_corners=_sharp_corners(graph, recess),
        floor_radius_mm=min(blends) if blends else 0.0,
        axis=up,
        position_mm=first.centre,
        depth_to_width=depth / width if width else None,
        reach=(up, *_openings(graph, recess)),
        faces=tuple(sorted(recess.faces)),
        volume_mm3=volume.over_floor(graph, recess.floor, recess.walls, recess.islands, depth),
        floor_mm2=volume.floor_area(graph, recess.floor),
        wall_mm2=sum(graph.faces[index].area for index in {*recess.walls, *recess.islands}),
    )


def _kind(walls: list[Face], closed: bool, width: float | None) -> str:
    """Slot: two walls face each other, the ends open or full rounds. Step: open, and no walls face each other."""
    if width is None:
        return "pocket" if closed else "step"
    full_rounds = [wall for wall in walls if wall.kind == "cylinder" and abs(2 * wall.radius - width) < 0.01 * width]
    flat = [wall for wall in walls if wall.kind == "plane"]
    if closed:
        return "slot" if full_rounds and len(flat) <= 2 else "pocket"
    return "slot" if len(flat) == 2 else "pocket"


def _ring_width(graph: Graph, recess: Recess) -> float | None:
    """Width of a groove between a round wall and a round island on the same axis."""
    walls, islands = ([graph.faces[index] for index in side] for side in (recess.walls, recess.islands))
    if not islands or any(face.kind != "cylinder" for face in walls + islands):
        return None
    apart = max(wall.radius for wall in walls) - min(island.radius for island in islands)
    offsets = (tuple(a - b for a, b in zip(wall.origin, islands[0].origin, strict=True)) for wall in walls)
    coaxial = all(norm(cross((o[0], o[1], o[2]), islands[0].axis)) < 0.02 for o in offsets)
    return apart if coaxial and apart > 0 else None


def _depth(graph: Graph, recess: Recess) -> float:
    """From the floor to the highest point of its walls."""
    level = dot(graph.faces[recess.floor[0]].origin, recess.up)
    return max(heights(graph, recess.walls, recess.up), default=level) - level


def _length(graph: Graph, recess: Recess, walls: list[Face]) -> float:
    """Extent along the largest plane wall; of a floor without one, its largest of two."""
    flat = [wall for wall in walls if wall.kind == "plane"]
    if flat:
        along = cross(recess.up, max(flat, key=lambda wall: wall.area).normal)
        return extent(graph, [*recess.floor, *recess.walls], along)
    first = cross(recess.up, (1.0, 0.0, 0.0) if abs(recess.up[0]) < 0.9 else (0.0, 1.0, 0.0))
    return max(extent(graph, recess.floor, way) for way in (first, cross(recess.up, first)))


def _sharp_corners(graph: Graph, recess: Recess) -> int:
    """Inside corners between walls that no round tool can make."""
    walls = set(recess.walls)
    corners = {
        edge.index
        for wall in walls
        for edge in graph.edges_of[wall]
        if edge.other(wall) in walls and edge.turn_deg < -LEAST_CORNER_DEG
        if norm(cross(edge.direction, recess.up)) < WALL_SLOPE
    }
    return len(corners)


def _openings(graph: Graph, recess: Recess) -> list[Vector]:
    """Sideways directions in which an open recess has no wall: out over the open edges of its floor."""
    ways: list[Vector] = []
    for index in recess.floor:
        for edge, beyond in graph.neighbours(index):
            if edge.is_convex and edge.kind == "line" and beyond.kind == "plane" and is_wall(beyond, recess.up):
                way = beyond.normal
                blocked = any(dot(graph.faces[wall].normal, minus(way)) > 0.98 for wall in recess.walls)
                if edge.is_outer_of(index) and not blocked and all(dot(way, known) < 0.999 for known in ways):
                    ways.append(way)
    return ways
