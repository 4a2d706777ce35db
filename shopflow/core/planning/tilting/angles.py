"""How a part has to stand so that a slanted direction of the model looks up: the fewest and smallest angles for it."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees, hypot, sqrt

from shopflow.core.orientation import AXES, SQUARE, Angles, rotation
from shopflow.core.types import Vector

NO_ANGLE = 1e-9
ROUND_DEG, AS_READ_DEG = 0.01, 2e-4
"""An angle this near to a round one is that one: a reading says directions to six decimals."""
STORED_DECIMALS = 4


@dataclass(frozen=True)
class AtAngle:
    """up, along_x: names of AXES. angles: degrees from there, about the machine's X, Y and Z (core.orientation)."""

    up: str
    along_x: str
    angles: Angles = SQUARE

    @property
    def rows(self) -> tuple[float, ...]:
        """The machine's axes in the model's, as rotation gives them."""
        return rotation(self.up, self.along_x, self.angles)


def looking_up(direction: Vector) -> AtAngle:
    """The part with this direction of the model towards the spindle, exactly; direction: not zero, of any length.

    One angle where one does, about the machine's Y: the jaws of a vise then hold the part by the sides it turns along.
    Then the smallest angles, which a sine bar sets best.
    """
    length = sqrt(sum(part * part for part in direction))
    x, y, z = direction
    unit = (x / length, y / length, z / length)
    ways = [_stand(unit, up, right) for up in AXES if _along(unit, AXES[up]) > 0.0 for right in _flat(up)]
    return min(ways, key=_cost)


def as_set(stand: AtAngle) -> AtAngle:
    """The same with angles as a person sets them: round where they are nearly, else to a ten-thousandth of a degree."""
    x, y, z = (_rounded(angle) for angle in stand.angles)
    return AtAngle(stand.up, stand.along_x, (x, y, z))


def slant_key(direction: Vector) -> str:
    """A name for a slanted direction that stays when the plan is proposed again: "0.500,0.000,0.866"."""
    return ",".join(f"{round(part, 3) + 0.0:.3f}" for part in direction)


def _stand(unit: Vector, up: str, right: str) -> AtAngle:
    """First about X until the direction lies in the plane of X and Z, then about Y until it is Z."""
    rows = rotation(up, right)
    a, b, c = (sum(p * q for p, q in zip(unit, rows[n : n + 3], strict=True)) for n in (0, 3, 6))
    about_x, about_y = degrees(atan2(b, c)), degrees(atan2(-a, hypot(b, c)))
    return AtAngle(up, right, (_none_if_tiny(about_x), _none_if_tiny(about_y), 0.0))


def _none_if_tiny(angle: float) -> float:
    return angle if abs(angle) > NO_ANGLE else 0.0


def _cost(stand: AtAngle) -> tuple[int, float, float, int, bool, bool]:
    angles = as_set(stand).angles
    taken = [angle for angle in angles if angle]
    uneven = sum(abs(angle - round(angle, 2)) > NO_ANGLE for angle in taken)
    steepest, whole = max(map(abs, angles)), sum(map(abs, angles))
    return len(taken), round(steepest, 6), round(whole, 6), uneven, angles[0] != 0.0, stand.along_x[0] == "-"


def _rounded(angle: float) -> float:
    nearest = round(angle / ROUND_DEG) * ROUND_DEG
    return round(nearest if abs(nearest - angle) <= AS_READ_DEG else angle, STORED_DECIMALS) + 0.0


def _flat(up: str) -> list[str]:
    return [name for name in AXES if name[1] != up[1]]


def _along(a: Vector, b: Vector) -> float:
    return sum(p * q for p, q in zip(a, b, strict=True))
