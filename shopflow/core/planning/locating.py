"""What a setup stands on and is pushed against, which datums of the print that serves, and whether the grip suffices.

All of it is common practice with no source: the fixed jaw is the one at the back, the stop stands at the left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.core.planning.directions import AXES, SAME_WAY, along, height_axis, opposite
from shopflow.core.planning.holding import Holding
from shopflow.core.planning.placement import rotation
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid.reading import Reading
from shopflow.core.types import Vector

FIXED_JAW = "back"
STOP = "left"
MINUS = "\u2212"


@dataclass(frozen=True)
class Locating:
    """fixed_jaw: the side of the vise that does not move, seen from the machine's front. stop_side: left or right.

    located_on: in words. datums: letters of those that lie on the surfaces it is located by, where they are cut
    already. All "" where nothing is gripped or the directions are not known.
    """

    fixed_jaw: str = ""
    stop_side: str = ""
    located_on: str = ""
    datums: str = ""


def locating(index: int, up: str, holding: Holding, reading: Reading) -> Locating:
    """Of the index-th setup, counted from 0: raw sides in the first, later the face below and two sides cut before."""
    below = opposite(up)
    if not holding.along_x:
        return Locating()
    if holding.grip_mm is None:
        on = "the raw lower side" if index == 0 else f"the face that looks to {_name(below)}, cut before"
        return Locating(located_on=f"{on}, on the table or on parallels", datums=_datums(index, [below], reading))
    rows = rotation(up, holding.along_x)
    back, left = _axis(rows[3:6], 1.0), _axis(rows[0:3], -1.0)
    if index == 0:
        on = "raw lower side on the parallels, raw long side on the fixed jaw, an end on the stop"
    else:
        on = (
            f"the face that looks to {_name(below)} on the parallels, {_name(back)} on the fixed jaw, "
            f"{_name(left)} on the stop"
        )
    return Locating(FIXED_JAW, STOP, on, _datums(index, [below, back, left], reading))


def _name(axis: str) -> str:
    return axis.replace("-", MINUS)


def _axis(row: Sequence[float], sign: float) -> str:
    x, y, z = row
    way: Vector = (sign * x, sign * y, sign * z)
    return max(AXES, key=lambda name: along(way, AXES[name]))


def _datums(index: int, sides: Sequence[str], reading: Reading) -> str:
    """Datum planes that look to one of these sides, in the order of their letters; none while the sides are raw."""
    if index == 0:
        return ""
    facing = {
        face
        for group in reading.planes
        if any(along(group.direction, AXES[side]) >= SAME_WAY for side in sides)
        for level in group.levels
        for face in level.faces
    }
    found = {
        letter
        for item in reading.pmi.items
        if item.kind == "datum" and facing & set(item.faces)
        for letter in item.datums
    }
    return ", ".join(sorted(found))


def grip_note(up: str, grip_mm: float | None, blank_mm: Vector, rules: PlanRules) -> str:
    """Where the part stands higher over the jaws than the house rule allows for its grip; "" where it does not.

    What its setup does, without naming it: "grips …".
    """
    if not grip_mm:
        return ""
    standing = blank_mm[height_axis(up)] - grip_mm
    if standing <= rules.depth_to_grip * grip_mm:
        return ""
    held, high = rules.say(grip_mm), rules.say(standing)
    return f"grips {held} and stands {high} over the jaws: grip more, cut lighter, or support it."
