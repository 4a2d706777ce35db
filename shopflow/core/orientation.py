"""How a part can stand on a three-axis mill: which direction of the model looks up, which lies along X+, and angles.

On an angle plate, a sine bar or a turned vise it stands by three further angles: about the machine's X first, then
about its Y, then about its Z, each counter-clockwise as seen from the plus end of that axis.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from shopflow.core.errors import CoreError
from shopflow.core.types import Vector

AXES: dict[str, Vector] = {
    "+Z": (0.0, 0.0, 1.0),
    "-Z": (0.0, 0.0, -1.0),
    "+Y": (0.0, 1.0, 0.0),
    "-Y": (0.0, -1.0, 0.0),
    "+X": (1.0, 0.0, 0.0),
    "-X": (-1.0, 0.0, 0.0),
}
"""The six ways to stand by right angles, named by the axis of the model that looks at the spindle."""

Angles = tuple[float, float, float]
SQUARE: Angles = (0.0, 0.0, 0.0)
"""Degrees about the machine's X, Y and Z by which a part stands otherwise than by right angles."""


class NotSquare(CoreError):
    """The direction along X is not square to the one that looks up."""


def rotation(up: str, along_x: str, angles: Angles = SQUARE) -> tuple[float, ...]:
    """Row-major 3 × 3: its rows are the machine's X, Y and Z in the model's axes. Right-handed.

    up, along_x: names of AXES. angles: degrees by which it is tilted and turned from there. Raises NotSquare where the
    two are parallel.
    """
    if up[1] == along_x[1]:
        raise NotSquare(f"{along_x} cannot lie along X when {up} is up: choose a direction that is square to it.")
    rows = (AXES[along_x], _cross(AXES[up], AXES[along_x]), AXES[up])
    for axis, degrees in enumerate(angles):
        rows = _turned_about(axis, degrees, rows)
    return (*rows[0], *rows[1], *rows[2])


def _turned_about(axis: int, degrees: float, rows: tuple[Vector, Vector, Vector]) -> tuple[Vector, Vector, Vector]:
    """The machine's axes in the model after the part was turned about one of them."""
    if not degrees:
        return rows
    quarters, rest = divmod(degrees / 90.0, 1.0)
    cosine, sine = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    if not rest:
        cosine, sine = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
    one, two = (axis + 1) % 3, (axis + 2) % 3
    made = list(rows)
    made[one] = _three(cosine * a - sine * b for a, b in zip(rows[one], rows[two], strict=True))
    made[two] = _three(sine * a + cosine * b for a, b in zip(rows[one], rows[two], strict=True))
    return made[0], made[1], made[2]


def _three(values: Iterable[float]) -> Vector:
    x, y, z = values
    return x, y, z


def _cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
