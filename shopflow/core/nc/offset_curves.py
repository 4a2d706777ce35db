"""Plane geometry of cutter compensation: lines and circles beside a path, and where they meet. Any one unit."""

from __future__ import annotations

import math
from dataclasses import dataclass

Point = tuple[float, float]

PARALLEL = 1e-12


@dataclass(frozen=True, slots=True)
class Line:
    """Through a point, along a unit direction."""

    point: Point
    direction: Point


@dataclass(frozen=True, slots=True)
class Circle:
    centre: Point
    radius: float


def meet(one: Line | Circle, two: Line | Circle) -> list[Point]:
    """All points that two curves share; none where they run beside each other."""
    if isinstance(one, Line) and isinstance(two, Line):
        return _lines(one, two)
    if isinstance(one, Line) and isinstance(two, Circle):
        return _line_and_circle(one, two)
    if isinstance(one, Circle) and isinstance(two, Line):
        return _line_and_circle(two, one)
    assert isinstance(one, Circle) and isinstance(two, Circle)
    return _circles(one, two)


def _lines(one: Line, two: Line) -> list[Point]:
    cross = one.direction[0] * two.direction[1] - one.direction[1] * two.direction[0]
    if abs(cross) < PARALLEL:
        return []
    dx, dy = two.point[0] - one.point[0], two.point[1] - one.point[1]
    along = (dx * two.direction[1] - dy * two.direction[0]) / cross
    return [_along(one, along)]


def _line_and_circle(line: Line, circle: Circle) -> list[Point]:
    dx, dy = circle.centre[0] - line.point[0], circle.centre[1] - line.point[1]
    along = dx * line.direction[0] + dy * line.direction[1]
    away = dx * line.direction[1] - dy * line.direction[0]
    if abs(away) > circle.radius:
        return []
    half = math.sqrt(circle.radius**2 - away**2)
    return [_along(line, along - half), _along(line, along + half)]


def _circles(one: Circle, two: Circle) -> list[Point]:
    apart = math.dist(one.centre, two.centre)
    if apart < PARALLEL or apart > one.radius + two.radius or apart < abs(one.radius - two.radius):
        return []
    along = (apart**2 + one.radius**2 - two.radius**2) / (2.0 * apart)
    half = math.sqrt(max(one.radius**2 - along**2, 0.0))
    ux, uy = (two.centre[0] - one.centre[0]) / apart, (two.centre[1] - one.centre[1]) / apart
    foot = (one.centre[0] + along * ux, one.centre[1] + along * uy)
    return [(foot[0] - half * uy, foot[1] + half * ux), (foot[0] + half * uy, foot[1] - half * ux)]


def _along(line: Line, distance: float) -> Point:
    return line.point[0] + distance * line.direction[0], line.point[1] + distance * line.direction[1]
