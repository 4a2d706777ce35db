"""What no side of a three-axis machine reaches, and how the part would have to be tilted for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import acos, degrees

from shopflow.core.planning.cover import smallest_cover
from shopflow.core.planning.directions import AXES, along, is_same_way
from shopflow.core.planning.needs import FarMouth, Need, Undercut
from shopflow.core.planning.sights import Glimpsed
from shopflow.core.planning.slots.side_slot import SideSlot
from shopflow.core.solid.reading import Hole, PlaneGroup
from shopflow.core.types import Vector


@dataclass(frozen=True)
class Tilt:
    """One more clamping, with the part on a sine plate, angle plate or tilting vise.

    direction: of the model, towards the spindle. side, degrees: the nearest side and how far it is tilted from up.
    """

    direction: Vector
    side: str
    degrees: float
    needs: tuple[Need, ...]

    def reaches(self, need: Need) -> bool:
        """Whether it is open to this direction."""
        return any(is_same_way(way, self.direction) for way in _ways(need))

    @property
    def words(self) -> str:
        """As "30.0° from +Z up"."""
        side = self.side.replace("-", "\u2212")
        return f"{self.degrees:.1f}\u00b0 from {side} up"


def tilts(unreached: Sequence[Need]) -> tuple[list[Tilt], list[Need]]:
    """The fewest tilted clampings that reach what the six sides do not, and what even they do not reach."""
    ways = [_ways(need) for need in unreached]
    directions: list[Vector] = []
    wanted = [frozenset(_index(way, directions) for way in found) for found in ways]
    chosen = smallest_cover([one for one in wanted if one], len(directions))
    made: dict[int, list[Need]] = {index: [] for index in chosen}
    for need, open_to in zip(unreached, wanted, strict=True):
        if open_to:
            made[next(index for index in chosen if index in open_to)].append(need)
    left = [need for need, open_to in zip(unreached, wanted, strict=True) if not open_to]
    return [_tilt(directions[index], needs) for index, needs in made.items()], left


def _ways(need: Need) -> tuple[Vector, ...]:
    """Where it is open to; a hole whose surroundings the reader could not look at is open at its mouth."""
    feature = need.feature
    if isinstance(feature, PlaneGroup):
        return (feature.direction,)
    if isinstance(feature, FarMouth):
        return (feature.axis,)
    if isinstance(feature, Undercut | Glimpsed | SideSlot):
        return ()
    return feature.reach or ((feature.axis,) if isinstance(feature, Hole) else ())


def _index(way: Vector, directions: list[Vector]) -> int:
    """The number of a direction, kept in the list where it is new."""
    for index, known in enumerate(directions):
        if is_same_way(way, known):
            return index
    directions.append(way)
    return len(directions) - 1


def _tilt(direction: Vector, needs: Sequence[Need]) -> Tilt:
    side = max(AXES, key=lambda name: along(direction, AXES[name]))
    cosine = min(1.0, along(direction, AXES[side]))
    return Tilt(direction, side, degrees(acos(cosine)), tuple(needs))
