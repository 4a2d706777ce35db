"""Everything that a review is computed from, gathered from the rows, so that a worker needs nothing else.

The work is keyed by these values: the same bytes under the same values are not reviewed twice, and a worker that takes
the work up an hour later uses what was true when it was asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from itertools import chain
from typing import Any

from shopflow.core.cutting.rows import DataRow
from shopflow.core.planning import OperationKind
from shopflow.core.review import HouseRules, OnHand, PersonTouch, PlanFacts, Wear
from shopflow.core.review.life import Edge
from shopflow.core.types import ControlProfile, Machine, Material, Tool
from shopflow.jobs.models import Setup
from shopflow.programs import typed
from shopflow.programs.assumptions import bound, rows_of
from shopflow.programs.models import ProgramRevision
from shopflow.programs.today import Today
from shopflow.records.canonical import digest
from shopflow.shop import queries as shop
from shopflow.shop.models import Tool as ToolRow


@dataclass(frozen=True)
class Inputs:
    """content: SHA-256 of the bytes. assumptions: what a sign-off binds. The rest is what the rules are given.

    offsets: (work offset, setup) pairs of the plan, 1 is G54. own_data: the shop's own speeds and feeds; they bind
    nothing, as they are no more than what the shop has found good so far. on_hand: what holds on the day it is asked;
    it changes with every piece that the floor cuts, calls for no other review, and is in no hash.
    """

    content: str
    assumptions: dict[str, Any]
    machine: Machine | None
    tools: tuple[Tool, ...]
    changed_rules: dict[str, Decimal]
    plan: PlanFacts
    offsets: tuple[tuple[int, int], ...]
    material: Material | None = None
    own_data: tuple[DataRow, ...] = ()
    on_hand: OnHand = OnHand()

    @property
    def control(self) -> ControlProfile:
        """The machine's control profile; the default one while the plan names no machine."""
        return self.machine.control if self.machine else shop.control_profile("")

    @property
    def house_rules(self) -> HouseRules:
        return HouseRules(self.changed_rules)

    @property
    def length_offset_shift(self) -> int:
        """H and D are the tool's number plus this, by the house rule."""
        return int(self.house_rules.value("length_offset_shift"))

    @property
    def setups_by_offset(self) -> dict[int, int]:
        """The setup of each work offset that only one setup has."""
        numbers = [offset for offset, _ in self.offsets]
        return {offset: setup for offset, setup in self.offsets if numbers.count(offset) == 1}

    @cached_property
    def plain(self) -> dict[str, Any]:
        """Values that records.work takes as inputs."""
        return self._hashed | {"on_hand": typed.plain(self.on_hand)}

    @cached_property
    def _hashed(self) -> dict[str, Any]:
        names = ("machine", "tools", "changed_rules", "plan", "offsets", "material", "own_data")
        computed_from = {name: typed.plain(getattr(self, name)) for name in names}
        return {"content": self.content, "assumptions": self.assumptions, **computed_from}

    @cached_property
    def hash(self) -> str:
        return digest(self._hashed)


def from_plain(data: dict[str, Any]) -> Inputs:
    """The inputs that a piece of work was asked with; what came after it was asked is as if nobody had said it."""
    return Inputs(
        content=data["content"],
        assumptions=data["assumptions"],
        machine=typed.load(Machine, data["machine"]) if data["machine"] else None,
        tools=typed.load(tuple[Tool, ...], data["tools"]),
        changed_rules=typed.load(dict[str, Decimal], data["changed_rules"]),
        plan=typed.load(PlanFacts, data["plan"]),
        offsets=typed.load(tuple[tuple[int, int], ...], data["offsets"]),
        material=typed.load(Material, data["material"]) if data.get("material") else None,
        own_data=typed.load(tuple[DataRow, ...], data.get("own_data", ())),
        on_hand=typed.load(OnHand, data.get("on_hand", {})),
    )


def inputs_of(revision: ProgramRevision, today: Today | None = None) -> Inputs:
    """The inputs as the rows say today. today: of its job, where it was read already."""
    today = today or Today.of(revision)
    rows = rows_of(revision, today)
    return Inputs(
        content=revision.stored.sha256,
        assumptions=bound(rows),
        machine=rows.machine.as_core(rows.control) if rows.machine and rows.control else None,
        tools=tuple(_plainly_named(tool.as_core()) for tool in rows.crib.values() if tool),
        changed_rules=dict(rows.house_rules.changed),
        plan=PlanFacts(
            person_touches=tuple(_touches(rows.setups)),
            work_offsets=tuple(dict.fromkeys(setup.work_offset_code for setup in rows.setups)),
            tools=tuple(dict.fromkeys(tool.number for setup in rows.setups for tool in setup.tools.all())),
            minutes=_minutes(rows.setups),
            orders=tuple(_orders(rows.setups)),
        ),
        offsets=tuple((setup.work_offset, setup.number) for setup in rows.setups),
        material=rows.job.material.as_core() if rows.job.material else None,
        own_data=today.own_data,
        on_hand=OnHand(rows.job.quantity, tuple(_wear(rows.setups, rows.crib.values()))),
    )


_FINISHES = frozenset({OperationKind.FLOORS, OperationKind.WALLS, OperationKind.SURFACE, OperationKind.REAM})


def _wear(setups: Sequence[Setup], crib: Iterable[ToolRow | None]) -> Iterator[Wear]:
    """Of tools that somebody said something of: how long they last, or that they are no longer sharp."""
    operations = chain.from_iterable(setup.operations.all() for setup in setups)
    finishing = {one.tool.number for one in operations if one.tool and one.kind in _FINISHES}
    for tool in crib:
        wear = tool.wear() if tool else None
        if wear is not None and (wear.left is not None or wear.edge is not Edge.SHARP):
            yield replace(wear, finishes=wear.finishes or wear.number in finishing)


def _minutes(setups: Sequence[Setup]) -> float:
    """What the operations of all setups take; 0 where one of them is not known: a part of it would say too little."""
    each = [[operation.minutes for operation in setup.operations.all()] for setup in setups]
    known = [minutes for minutes in chain.from_iterable(each) if minutes is not None]
    is_whole = all(each) and len(known) == sum(map(len, each))
    return float(sum(known)) if is_whole else 0.0


def _orders(setups: Sequence[Setup]) -> Iterator[tuple[str, tuple[int, ...]]]:
    """For each work offset, numbers of the tools in the order of its operations, each where it is first used."""
    for offset in dict.fromkeys(setup.work_offset_code for setup in setups):
        operations = chain.from_iterable(one.operations.all() for one in setups if one.work_offset_code == offset)
        order = tuple(dict.fromkeys(operation.tool.number for operation in operations if operation.tool))
        if order:
            yield offset, order


def _plainly_named(tool: Tool) -> Tool:
    """Named by what it is: the shop's name for it says nothing about the cut, and renaming calls for no new review."""
    holder = replace(tool.holder, name="") if tool.holder else None
    return replace(tool, name=f"{tool.diameter_mm:g} mm {tool.shape.value}", holder=holder)


def _touches(setups: Sequence[Setup]) -> Iterator[PersonTouch]:
    """Where a person touches the part: where the plan says so, and between setups that share a work offset.

    Setups in offsets of their own stand side by side in one load, and nobody needs to reach in between them unless the
    plan says so; a touch that names no tool then comes before the offset of the next setup.
    """
    for setup, following in zip(setups, [*setups[1:], None], strict=True):
        for touch in setup.touches.all():
            after = f", after T{touch.after_tool.number}" if touch.after_tool else ""
            offsets = () if touch.after_tool or following is None else (setup, following)
            yield PersonTouch(setup.number, touch.reason + after, *(one.work_offset_code for one in offsets))
        if following is not None and following.work_offset == setup.work_offset:
            offset = setup.work_offset_code
            yield PersonTouch(setup.number, f"set the part up for setup {following.number}", offset, offset)
