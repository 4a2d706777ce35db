"""Which way up the part is clamped: the fewest orientations that reach everything, in an order that can be held."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from shopflow.core.planning.directions import AXES, name_of, opposite
from shopflow.core.planning.needs import Need
from shopflow.core.planning.slots.side_slot import SideSlot
from shopflow.core.planning.tilting.tilts import Tilt
from shopflow.core.solid.reading import Hole, PlaneGroup, Pocket

HOLE_COUNTS_AS_MM2 = 500.0
"""Enough for a side with many holes to win over a bare one of nearly the same size; a weight, not a measure."""


@dataclass(frozen=True)
class Orientation:
    """One way up, and what is cut there. tilt: how far from that it stands, None where it does not."""

    up: str
    needs: tuple[Need, ...]
    tilt: Tilt | None = None

    def reaches(self, need: Need) -> bool:
        """Whether it can be cut here."""
        return self.tilt.reaches(need) if self.tilt else self.up in need.sides

    @property
    def holes(self) -> tuple[Hole, ...]:
        return tuple(need.feature for need in self.needs if isinstance(need.feature, Hole))

    @property
    def pockets(self) -> tuple[Pocket, ...]:
        return tuple(need.feature for need in self.needs if isinstance(need.feature, Pocket))

    @property
    def side_slots(self) -> tuple[SideSlot, ...]:
        return tuple(need.feature for need in self.needs if isinstance(need.feature, SideSlot))

    @property
    def planes(self) -> tuple[PlaneGroup, ...]:
        return tuple(need.feature for need in self.needs if isinstance(need.feature, PlaneGroup))


def orientations(needs: Sequence[Need], *, turns_over: bool = True) -> tuple[list[Orientation], list[Need]]:
    """The setups in order with what each cuts, and the needs that no side reaches.

    The side with the most to cut comes first: it is cut while the raw stock under the part is held. The opposite side
    comes next and faces that stock off; what is left is held on finished walls (common practice, no source).
    turns_over: False where the blank has no stock that is there to be held only.
    """
    reachable = [need for need in needs if need.sides]
    order = _in_order(fewest_sides(reachable, turns_over=turns_over), reachable)
    made: dict[str, list[Need]] = {side: [] for side in order}
    for need in reachable:
        made[_best_side(need, order)].append(need)
    return [Orientation(side, tuple(made[side])) for side in order], [need for need in needs if not need.sides]


def fewest_sides(needs: Sequence[Need], *, turns_over: bool = True) -> tuple[str, ...]:
    """The smallest set of sides that reaches every need and turns the part over once; among equals the most work.

    It is turned over because the stock that the first setup is held by has to go as well. There are 63 sets of six
    sides, so all are tried.
    """
    wanted = {need.sides for need in needs}
    work = {side: work_from(side, needs) for side in AXES}
    for size in range(1, len(AXES) + 1):
        sets = [sides for sides in combinations(AXES, size) if _reach_all(sides, wanted)]
        if turns_over:
            sets = [sides for sides in sets if _turns_over(sides)]
        if sets:
            return max(sets, key=lambda sides: sum(work[side] for side in sides))
    raise AssertionError("six sides reach whatever one of them reaches")


def _in_order(sides: Sequence[str], needs: Sequence[Need]) -> list[str]:
    busiest = sorted(sides, key=lambda side: -work_from(side, needs))
    first = next((side for side in busiest if opposite(side) in sides), None)
    if first is None:
        return busiest
    return [first, opposite(first), *(side for side in busiest if side not in (first, opposite(first)))]


def _best_side(need: Need, order: Sequence[str]) -> str:
    """The side a hole or pocket looks to, where that is one of the setups; else the first setup that reaches it.

    Planes are floors of the first two setups or walls of the outline, which the earliest setup cuts along.
    """
    feature = need.feature
    looks = name_of(feature.direction if isinstance(feature, PlaneGroup) else feature.axis)
    fitting = [side for side in order if side in need.sides]
    preferred = order[:2] if isinstance(feature, PlaneGroup) else fitting
    return looks if looks in fitting and looks in preferred else fitting[0]


def _reach_all(sides: Sequence[str], wanted: set[frozenset[str]]) -> bool:
    return all(need.intersection(sides) for need in wanted)


def _turns_over(sides: Sequence[str]) -> bool:
    return any(opposite(side) in sides for side in sides)


def work_from(side: str, needs: Sequence[Need]) -> float:
    """How much there is to cut from a side: its floors in mm², with each hole and pocket that looks there on top."""
    work = 0.0
    for need in needs:
        feature = need.feature
        if isinstance(feature, PlaneGroup):
            work += feature.area_mm2 if name_of(feature.direction) == side else 0.0
        elif name_of(feature.axis) == side:
            work += HOLE_COUNTS_AS_MM2
    return work
