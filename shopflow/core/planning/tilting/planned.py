"""Tilted clampings as setups of the plan, after the straight ones, when every face that holds them is finished."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from shopflow.core.planning.blanks.blank import StockIn
from shopflow.core.planning.clamping.holding import Holding
from shopflow.core.planning.clamping.locating import Locating
from shopflow.core.planning.directions import is_same_way
from shopflow.core.planning.given import Given
from shopflow.core.planning.hole_operations import HoleFacts
from shopflow.core.planning.needs import Need
from shopflow.core.planning.operations import Operation
from shopflow.core.planning.orientations import Orientation
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.tilting.angles import AtAngle, as_set, looking_up, slant_key
from shopflow.core.planning.tilting.holding import lifted_words, tilted_holding, tilted_locating
from shopflow.core.planning.tilting.place import TiltedPart
from shopflow.core.planning.tilting.tilts import Tilt
from shopflow.core.planning.tilting.work import mouths, stood_beside, tilted_operations
from shopflow.core.solid.reading import Hole, PlaneGroup, Reading
from shopflow.core.types import Machine

MINUS = "\u2212"


@dataclass(frozen=True)
class TiltedPlan:
    """What one tilted clamping is, but for its number. key: names it when the plan is proposed again."""

    tilt: Tilt
    key: str
    stand: AtAngle
    title: str
    machine: Machine | None
    holding: Holding
    locating: Locating
    stock: StockIn
    operations: tuple[Operation, ...]
    height_mm: float


def tilted_sides(sides: Sequence[Orientation], found: Sequence[Tilt]) -> list[Orientation]:
    """The straight setups, then the tilted ones, with slopes moved to where they lie flat."""
    slopes = {id(need): tilt for tilt in found for side in sides for need in side.needs if is_slope_of(need, tilt)}
    straight = [replace(side, needs=tuple(need for need in side.needs if id(need) not in slopes)) for side in sides]
    flat = {id(tilt): [n for side in sides for n in side.needs if slopes.get(id(n)) is tilt] for tilt in found}
    tilted = [Orientation(tilt.side, (*tilt.needs, *flat[id(tilt)]), tilt) for tilt in found]
    return [*straight, *tilted]


def is_slope_of(need: Need, tilt: Tilt) -> bool:
    """Whether it is a slanted plane that lies flat in this clamping."""
    return isinstance(need.feature, PlaneGroup) and is_same_way(need.feature.direction, tilt.direction)


def tilted_plan(index: int, side: Orientation, reading: Reading, given: Given, facts: HoleFacts) -> TiltedPlan:
    """The index-th setup of the plan, counted from 0."""
    assert side.tilt is not None
    rules, tilt = given.rules, replace(side.tilt, needs=side.needs)
    crib = given.crib_of(slant_key(tilt.direction))
    stand = as_set(looking_up(tilt.direction))
    part = TiltedPart(stand, reading)
    machine = _machine_for(part, given.machines)
    through = sum(isinstance(need.feature, Hole) and need.feature.through for need in tilt.needs)
    held = tilted_holding(index, part, mouths(tilt), stood_beside(tilt), through, rules)
    return TiltedPlan(
        tilt=tilt,
        key=slant_key(tilt.direction),
        stand=stand,
        title=f"mill with {stand.up.replace('-', MINUS)} up, {lifted_words(part)}",
        machine=machine,
        holding=replace(held, cautions=(*held.cautions, *_too_large(part, machine, given.machines, rules))),
        locating=tilted_locating(part, held),
        stock=StockIn(reading.bbox_mm, 0.0),
        operations=tilted_operations(tilt, reading, crib, rules, given.speeds_on(machine), facts),
        height_mm=part.height_mm,
    )


def _too_large(
    part: TiltedPart, machine: Machine | None, machines: Sequence[Machine], rules: PlanRules
) -> Iterator[str]:
    """Why no machine of the shop takes the part as it stands; nothing where one does or the shop has none."""
    if machines and machine is None:
        low, high = part.box
        x, y, z = (rules.say(b - a) for a, b in zip(low, high, strict=True))
        yield f"takes {x} × {y} and is {z} high as it stands aslant: no machine of the shop has room for it."


def _machine_for(part: TiltedPart, machines: Sequence[Machine]) -> Machine | None:
    """The first machine whose travel holds the tilted part either way round, with as much height again for tools."""
    low, high = part.box
    wide = sorted(b - a for a, b in zip(low[:2], high[:2], strict=True))
    for machine in machines:
        travel = sorted(machine.travel_mm[:2])
        if wide[0] <= travel[0] and wide[1] <= travel[1] and 2 * part.height_mm <= machine.travel_mm[2]:
            return machine
    return None
