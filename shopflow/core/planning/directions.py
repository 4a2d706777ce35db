"""The six ways a part can stand on a three-axis mill, named by the axis of the model that looks at the spindle."""

from __future__ import annotations

from collections.abc import Iterable

from shopflow.core.orientation import AXES
from shopflow.core.types import Vector

__all__ = ["AXES", "along", "flat_axes", "height_axis", "is_same_way", "name_of", "names_of", "opposite"]

SQUARE = 1e-3
"""Directions closer than about a twentieth of a degree are one: the sine of the angle between them, or the angle in
radians."""
SAME_WAY = 1 - SQUARE**2 / 2
"""The cosine of that angle."""


def name_of(direction: Vector) -> str | None:
    """The axis that a unit vector lies along, or None for a slanted one."""
    return next((name for name, axis in AXES.items() if along(direction, axis) >= SAME_WAY), None)


def names_of(directions: Iterable[Vector]) -> frozenset[str]:
    """The axes among some directions."""
    return frozenset(name for direction in directions if (name := name_of(direction)))


def along(direction: Vector, axis: Vector) -> float:
    """Cosine between two unit vectors."""
    return sum(a * b for a, b in zip(direction, axis, strict=True))


def opposite(name: str) -> str:
    return ("-" if name[0] == "+" else "+") + name[1]


def height_axis(name: str) -> int:
    """0, 1 or 2: which coordinate is height when this side is up."""
    return "XYZ".index(name[1])


def flat_axes(name: str) -> tuple[int, int]:
    """The two coordinates that lie flat when this side is up."""
    first, second = (axis for axis in range(3) if axis != height_axis(name))
    return first, second


def is_same_way(a: Vector, b: Vector) -> bool:
    """Whether two unit vectors are one direction."""
    return along(a, b) >= SAME_WAY
