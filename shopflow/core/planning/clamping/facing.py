"""Which way the model's sides look in a setup, seen from the machine's front, and which datums lie on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.core.planning.directions import AXES, SAME_WAY, along, opposite
from shopflow.core.planning.placement import rotation
from shopflow.core.solid.reading import Reading
from shopflow.core.types import Vector

MINUS = "\u2212"


@dataclass(frozen=True)
class Facing:
    """Names of AXES by where they look."""

    left: str
    right: str
    front: str
    back: str
    below: str


def facing(up: str, along_x: str) -> Facing:
    """Of a part that stands by right angles with these two directions up and along X+."""
    rows = rotation(up, along_x)
    right, back = _axis(rows[0:3]), _axis(rows[3:6])
    return Facing(opposite(right), right, opposite(back), back, opposite(up))


def datums_on(sides: Sequence[str], reading: Reading) -> str:
    """Letters of the datum planes that look to one of these sides, in their order."""
    planes = {
        face
        for group in reading.planes
        if any(along(group.direction, AXES[side]) >= SAME_WAY for side in sides)
        for level in group.levels
        for face in level.faces
    }
    found = {
        letter
        for item in reading.pmi.items
        if item.kind == "datum" and planes & set(item.faces)
        for letter in item.datums
    }
    return ", ".join(sorted(found))


def said(side: str) -> str:
    """A side's name in a sentence."""
    return side.replace("-", MINUS)


def _axis(row: Sequence[float]) -> str:
    x, y, z = row
    way: Vector = (x, y, z)
    return max(AXES, key=lambda name: along(way, AXES[name]))
