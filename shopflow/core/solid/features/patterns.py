"""Recognises holes that belong together: on a bolt circle, in a row or in a grid."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shopflow.core.solid.graph import Vector, add, cross, dot, norm, sub, unit
from shopflow.core.solid.values import Hole, Pattern

SAME_MM = 0.02
_LEAST_ON_CIRCLE = 3
_LEAST_IN_ROW = 3

Spot = tuple[float, float]


def find(holes: Sequence[Hole]) -> list[Pattern]:
    """Patterns among equal holes that look the same way from one level; numbers are places in the list of holes."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for number, hole in enumerate(holes):
        groups.setdefault(_likeness(hole), []).append(number)
    found = (_pattern(holes, numbers) for numbers in groups.values() if len(numbers) >= _LEAST_IN_ROW)
    return [pattern for pattern in found if pattern]


def _likeness(hole: Hole) -> tuple[object, ...]:
    way = tuple(round(part, 3) + 0.0 for part in hole.axis)
    sizes = (hole.diameter_mm, hole.depth_mm, hole.counterbore_mm, hole.countersink_mm)
    level = round(dot(hole.position_mm, hole.axis), 1)
    return (hole.solid, way, level, *(None if size is None else round(size, 2) for size in sizes))


def _pattern(holes: Sequence[Hole], numbers: list[int]) -> Pattern | None:
    axis = holes[numbers[0]].axis
    first, second = _frame(axis, [holes[number].position_mm for number in numbers])
    base = holes[numbers[0]].position_mm
    spots = [
        (dot(sub(holes[number].position_mm, base), first), dot(sub(holes[number].position_mm, base), second))
        for number in numbers
    ]
    centre = (sum(x for x, _ in spots) / len(spots), sum(y for _, y in spots) / len(spots))
    place = add(add(base, first, centre[0]), second, centre[1])
    grid = _grid(spots)
    if grid and (grid[0] == 1 or grid[1] == 1 or not _circle(spots, centre) or len(spots) > 4):
        kind = "row" if 1 in grid[:2] else "grid"
        return Pattern(kind, tuple(numbers), place, axis, None, grid[2], grid[3] or None, grid[0], grid[1])
    diameter = _circle(spots, centre)
    if diameter:
        return Pattern("bolt circle", tuple(numbers), place, axis, diameter, None, None, len(spots), 1)
    return None


def _frame(axis: Vector, points: list[Vector]) -> tuple[Vector, Vector]:
    """Two directions square to the axis, the first towards the nearest neighbour of the first hole."""
    away = [sub(point, points[0]) for point in points[1:]]
    nearest = min(away, key=norm)
    first = unit(add(nearest, axis, -dot(nearest, axis)))
    return first, cross(axis, first)


def _circle(spots: list[Spot], centre: Spot) -> float | None:
    """Diameter of the circle that evenly spaced spots lie on, None when they do not."""
    if len(spots) < _LEAST_ON_CIRCLE:
        return None
    radii = [math.hypot(x - centre[0], y - centre[1]) for x, y in spots]
    if max(radii) - min(radii) > SAME_MM:
        return None
    angles = sorted(math.atan2(y - centre[1], x - centre[0]) for x, y in spots)
    steps = [b - a for a, b in zip(angles, angles[1:], strict=False)] + [angles[0] + 2 * math.pi - angles[-1]]
    even = 2 * math.pi / len(spots)
    return 2 * radii[0] if all(abs(step - even) * radii[0] < 2 * SAME_MM for step in steps) else None


def _grid(spots: list[Spot]) -> tuple[int, int, float, float] | None:
    """Columns, rows and their pitches when the spots fill an even grid, else None."""
    xs, ys = _levels([x for x, _ in spots]), _levels([y for _, y in spots])
    if len(xs) * len(ys) != len(spots) or max(len(xs), len(ys)) < 2:
        return None
    pitches = [_pitch(levels) for levels in (xs, ys)]
    return None if None in pitches else (len(xs), len(ys), pitches[0] or 0.0, pitches[1] or 0.0)


def _levels(values: list[float]) -> list[float]:
    levels: list[float] = []
    for value in sorted(values):
        if not levels or value - levels[-1] > SAME_MM:
            levels.append(value)
    return levels


def _pitch(levels: list[float]) -> float | None:
    """Even distance between levels, 0 for a single one, None when they are uneven."""
    if len(levels) == 1:
        return 0.0
    steps = [b - a for a, b in zip(levels, levels[1:], strict=False)]
    return steps[0] if max(steps) - min(steps) < 2 * SAME_MM else None
