"""A solid's faces and edges as plain values, all that feature recognition looks at. Lengths mm, angles degrees."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

Vector = tuple[float, float, float]

SMOOTH_DEG = 4.0
"""Faces that turn less than this across an edge run on into each other."""


def add(a: Vector, b: Vector, times: float = 1.0) -> Vector:
    return (a[0] + times * b[0], a[1] + times * b[1], a[2] + times * b[2])


def sub(a: Vector, b: Vector) -> Vector:
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def dot(a: Vector, b: Vector) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def norm(a: Vector) -> float:
    return math.sqrt(dot(a, a))


def unit(a: Vector) -> Vector:
    length = norm(a) or 1.0
    return (a[0] / length, a[1] / length, a[2] / length)


def minus(a: Vector) -> Vector:
    return (-a[0], -a[1], -a[2])


def angle_deg(a: Vector, b: Vector) -> float:
    """Angle between two directions, 0 to 180."""
    return math.degrees(math.atan2(norm(cross(a, b)), dot(a, b)))


@dataclass(frozen=True)
class Face:
    """One face.

    kind: "plane", "cylinder", "cone", "sphere", "torus" or "freeform". normal: out of the material, at the middle of
    the face (everywhere, on a plane). origin, axis: a point and direction of the axis; a point of a plane and its
    normal; the centre of a sphere. radius: of a cylinder or sphere, of a torus the tube's; big_radius: of a torus.
    concave: material lies outside (a hole, an inside fillet). span_deg: angle around the axis that the face covers.
    low, high: extent along the axis from origin, with radius_low, radius_high there. half_angle_deg: of a cone.
    samples: points on the face. recognised: found by fitting, the file had a general surface.
    """

    index: int
    solid: int
    kind: str
    area: float
    centre: Vector
    normal: Vector
    origin: Vector = (0.0, 0.0, 0.0)
    axis: Vector = (0.0, 0.0, 1.0)
    radius: float = 0.0
    big_radius: float = 0.0
    concave: bool = False
    span_deg: float = 0.0
    low: float = 0.0
    high: float = 0.0
    radius_low: float = 0.0
    radius_high: float = 0.0
    half_angle_deg: float = 0.0
    recognised: bool = False


@dataclass(frozen=True)
class Edge:
    """One edge between two faces.

    turn_deg: angle between the faces' normals at its middle, positive where the material is outside-cornered (convex),
    negative in an inside corner, about 0 where they run on. kind: "line", "circle" or "curve". outer: for each of the
    two faces, whether the edge lies in its outer boundary. direction: along the edge at its middle, with the material
    of faces[0] to the left. radius, centre, axis: of a circle.
    """

    index: int
    faces: tuple[int, int]
    kind: str
    length: float
    turn_deg: float
    start: Vector
    middle: Vector
    end: Vector
    direction: Vector
    normals: tuple[Vector, Vector]
    outer: tuple[bool, bool] = (True, True)
    radius: float = 0.0
    centre: Vector = (0.0, 0.0, 0.0)
    axis: Vector = (0.0, 0.0, 1.0)

    @property
    def is_convex(self) -> bool:
        return self.turn_deg > SMOOTH_DEG

    @property
    def is_concave(self) -> bool:
        return self.turn_deg < -SMOOTH_DEG

    @property
    def is_smooth(self) -> bool:
        return abs(self.turn_deg) <= SMOOTH_DEG

    def heights(self, way: Vector) -> tuple[float, ...]:
        """Places along a unit direction that the edge reaches: ends, middle, and the extremes of a circle."""
        points = [self.start, self.middle, self.end]
        if self.kind == "circle":
            slope = add(way, self.axis, -dot(way, self.axis))
            if norm(slope) > 1e-9:
                rise = unit(slope)
                extremes = (add(self.centre, rise, self.radius), add(self.centre, rise, -self.radius))
                points += [point for point in extremes if self._is_on_arc(point)]
        return tuple(dot(point, way) for point in points)

    def _is_on_arc(self, point: Vector) -> bool:
        half = math.degrees(self.length / self.radius) / 2
        return angle_deg(sub(point, self.centre), sub(self.middle, self.centre)) <= half + 1e-6

    def other(self, face: int) -> int:
        return self.faces[1] if self.faces[0] == face else self.faces[0]

    def normal_of(self, face: int) -> Vector:
        return self.normals[0 if self.faces[0] == face else 1]

    def is_outer_of(self, face: int) -> bool:
        return self.outer[0 if self.faces[0] == face else 1]


@dataclass(frozen=True)
class Graph:
    """Faces and edges of the solids looked at; faces are keyed by number, seams and poles are left out."""

    faces: dict[int, Face] = field(default_factory=dict)
    edges: tuple[Edge, ...] = ()

    @cached_property
    def edges_of(self) -> dict[int, tuple[Edge, ...]]:
        """The edges round each face."""
        table: dict[int, list[Edge]] = {index: [] for index in self.faces}
        for edge in self.edges:
            for face in set(edge.faces):
                table[face].append(edge)
        return {index: tuple(edges) for index, edges in table.items()}

    def neighbours(self, face: int) -> Iterator[tuple[Edge, Face]]:
        """Each edge of a face with the face beyond it."""
        for edge in self.edges_of[face]:
            yield edge, self.faces[edge.other(face)]

    def of_kind(self, *kinds: str) -> Iterator[Face]:
        return (face for face in self.faces.values() if face.kind in kinds)

    def touching(self, faces: Iterable[int]) -> set[int]:
        """Faces that share an edge with any of these, without these themselves."""
        inside = set(faces)
        return {edge.other(face) for face in inside for edge in self.edges_of[face]} - inside
