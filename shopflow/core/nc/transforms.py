"""Rotation, scaling and mirror of program coordinates (common practice, no source): G68, G51, G51.1."""

from __future__ import annotations

import math
from dataclasses import dataclass

Place = list[float]

ORDER = ("mirror", "scaling", "rotation")
"""A program point is first mirrored, then scaled, then rotated."""


@dataclass(frozen=True, slots=True)
class Transform:
    """place = centre + A · (point - centre), with A = ((a, b, 0), (c, d, 0), (0, 0, e)). Lengths mm."""

    centre: tuple[float, float, float]
    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 1.0

    def turn(self, vector: tuple[float, float]) -> tuple[float, float]:
        """A vector in the XY plane, such as I J."""
        return self.a * vector[0] + self.b * vector[1], self.c * vector[0] + self.d * vector[1]

    def place(self, point: Place) -> Place:
        x, y = self.turn((point[0] - self.centre[0], point[1] - self.centre[1]))
        return [self.centre[0] + x, self.centre[1] + y, self.centre[2] + self.e * (point[2] - self.centre[2])]

    def point(self, place: Place) -> Place:
        """The program point of a place."""
        size = self.a * self.d - self.b * self.c
        x, y = place[0] - self.centre[0], place[1] - self.centre[1]
        return [
            self.centre[0] + (self.d * x - self.b * y) / size,
            self.centre[1] + (self.a * y - self.c * x) / size,
            self.centre[2] + (place[2] - self.centre[2]) / self.e,
        ]

    @property
    def scale(self) -> float:
        """Factor of lengths in the plane; 0 where X and Y differ, so that a circle is none any more."""
        one, two = math.hypot(self.a, self.c), math.hypot(self.b, self.d)
        return one if math.isclose(one, two) else 0.0

    @property
    def flips(self) -> bool:
        """Whether clockwise becomes counter-clockwise."""
        return self.a * self.d - self.b * self.c < 0.0


def rotation(centre: tuple[float, float, float], degrees: float) -> Transform:
    """Counter-clockwise about the centre."""
    cosine, sine = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return Transform(centre, a=cosine, b=-sine, c=sine, d=cosine)


def to_place(transforms: dict[str, Transform], point: Place) -> Place:
    """Where a program point lies."""
    for name in ORDER:
        if name in transforms:
            point = transforms[name].place(point)
    return point


def to_point(transforms: dict[str, Transform], place: Place) -> Place:
    """The program point of a place."""
    for name in reversed(ORDER):
        if name in transforms:
            place = transforms[name].point(place)
    return place


def turned(transforms: dict[str, Transform], vector: tuple[float, float]) -> tuple[float, float]:
    for name in ORDER:
        if name in transforms:
            vector = transforms[name].turn(vector)
    return vector


def scale_of(transforms: dict[str, Transform]) -> float:
    """Factor of lengths in the plane, 0 where circles do not stay circles."""
    return math.prod(transform.scale for transform in transforms.values())


def flips(transforms: dict[str, Transform]) -> bool:
    return sum(transform.flips for transform in transforms.values()) % 2 == 1
