"""The straight setups of a plan, each with machine, holding, stock and operations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shopflow.core.planning.blanks.blank import BlankProposal, StockIn, stock_in
from shopflow.core.planning.blanks.cast import Cast
from shopflow.core.planning.blanks.cast_work import cast_stock, cast_work, held_as_cast
from shopflow.core.planning.clamping.gripping import Stand
from shopflow.core.planning.clamping.holding import holding
from shopflow.core.planning.clamping.limits import holder_notes, parallels_note, travel_note
from shopflow.core.planning.clamping.locating import locating
from shopflow.core.planning.directions import height_axis
from shopflow.core.planning.given import Given
from shopflow.core.planning.hole_operations import HoleFacts
from shopflow.core.planning.orientations import Orientation
from shopflow.core.planning.outline import outline_note, shared_outline, stock_of_second
from shopflow.core.planning.proposal import SetupProposal
from shopflow.core.planning.side_work import SideWork, side_works
from shopflow.core.planning.tooling import operations_of
from shopflow.core.solid.reading import Reading
from shopflow.core.types import Machine

MINUS = "\u2212"


def straight_setups(
    reading: Reading,
    sides: Sequence[Orientation],
    blank: BlankProposal,
    facts: HoleFacts,
    given: Given,
    cast: Cast | None,
) -> list[SetupProposal]:
    """In the order of the sides."""
    works, stocks = _cut(reading, sides, blank, given, cast)
    made = []
    for index, (side, work, stock) in enumerate(zip(sides, works, stocks, strict=True)):
        machine = _machine_for(blank, side.up, given.machines)
        operations = operations_of(work, given.crib_of(side.up), given.rules, given.speeds_on(machine), facts)
        stand = Stand(side.up, tuple(one.up for one in sides[:index]), reading)
        held = holding(index, side.up, (reading.box_min_mm, reading.box_max_mm), blank.size_mm, given.rules, stand)
        if cast and index == 0:
            held = held_as_cast(held, side.up, cast)
        located = locating(index, side.up, held, reading, stand)
        if stands := parallels_note(stand, side.holes, held, given.rules):
            held = replace(held, cautions=(*held.cautions, stands))
        shared = outline_note(works, given.rules) if index == 0 else ""
        beside = holder_notes(stand, side.holes, operations, given.rules)
        one = SetupProposal(
            number=index + 1,
            up=side.up,
            title=f"mill with {side.up.replace('-', MINUS)} up",
            machine=machine,
            holding=held,
            locating=located,
            stock=stock,
            operations=operations,
            needs=side.needs,
            cautions=tuple(filter(None, [shared, travel_note(operations, machine, given.rules), *beside])),
        )
        made.append(one)
    return made


def _cut(
    reading: Reading, sides: Sequence[Orientation], blank: BlankProposal, given: Given, cast: Cast | None
) -> tuple[list[SideWork], list[StockIn]]:
    """What each setup cuts, and what it begins with."""
    ups = [side.up for side in sides]
    if cast:
        stocks = [cast_stock(ups[: n + 1], reading, cast) for n in range(len(ups))]
        return cast_work(side_works(reading, sides, blank, stocks), reading, cast, stocks), stocks
    stocks = [_stock(n, up, reading, blank, given) for n, up in enumerate(ups)]
    cribs = [given.crib_of(up) for up in ups]
    works = shared_outline(side_works(reading, sides, blank, stocks), cribs, blank)
    later = [stock_of_second(stock, work, blank) for stock, work in zip(stocks[1:], works[1:], strict=True)]
    return works, [*stocks[:1], *later]


def _stock(index: int, up: str, reading: Reading, blank: BlankProposal, given: Given) -> StockIn:
    stock = stock_in(index, up, reading.bbox_mm, blank.size_mm, given.rules)
    return replace(stock, over_mm=given.over_mm[up]) if up in given.over_mm else stock


def _machine_for(blank: BlankProposal, up: str, machines: Sequence[Machine]) -> Machine | None:
    """The first machine whose table travel holds the blank, either way round, with as much height again for tools."""
    height = height_axis(up)
    flat = sorted(size for axis, size in enumerate(blank.size_mm) if axis != height)
    for machine in machines:
        travel = sorted(machine.travel_mm[:2])
        if flat[0] <= travel[0] and flat[1] <= travel[1] and 2 * blank.size_mm[height] <= machine.travel_mm[2]:
            return machine
    return None
