"""From a program and its setups to what each setup cuts, as rules look at it: stock, removal, comparison, air, loads.

Setups run in the order in which they are given, each from what the one before left. A state is handed on in the part's
coordinates, so that any setup can take it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import CoreError
from shopflow.core.nc import Program, offset_name
from shopflow.core.review.cut import Cut
from shopflow.core.review.house_rules import LIMITS, HouseRules
from shopflow.core.solid import Mesh, Reading
from shopflow.core.stock.air import AirCut, air_cuts, difference_without
from shopflow.core.stock.blanks import PLAIN, BlankForm, BlankMesh, blank_columns, one_size
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.compare import Comparison
from shopflow.core.stock.compare_plan import OtherSetups, Part, compare_setup, part_in
from shopflow.core.stock.grid import Grid, grid_for
from shopflow.core.stock.holding import Solid
from shopflow.core.stock.loads import loads_of
from shopflow.core.stock.moves import Unswept
from shopflow.core.stock.removal import Conditions, Removal, remove
from shopflow.core.stock.turn import carried_back, placed
from shopflow.core.types import Box, Machine, Material, Motions, Placement, Tool

MEMORY = 8_000_000
"""Bytes of columns: a grid that answers in seconds (our choice)."""
LEAST_TOOL_MM, MOST_TOOL_MM = 2.0, 4.0
"""The grid is made for a thinnest tool between these (our choice); whoever shows a result states the grid."""

AIR_MM3, AIR_S = 0.5, 3.0
"""A run that takes less than the first and costs more than the second is asked about (our choice)."""


@dataclass(frozen=True)
class Place:
    """One setup of the program. blank, smallest: the largest and the smallest one, in the part's coordinates, mm.

    others: the job's other setups. holding: what holds the part, in the setup's coordinates; none where the plan does
    not say enough. form: whether the blank is round, the holes it comes with, or the model that it is, in the part's
    coordinates; with a model, blank and smallest are its box.
    """

    number: int
    work_offset: int
    placement: Placement
    blank: Box
    smallest: Box
    others: OtherSetups = OtherSetups()
    holding: tuple[Solid, ...] = ()
    form: BlankForm = PLAIN


class Ran(Protocol):
    """A run of all motions over one stock."""

    @property
    def removal(self) -> Removal: ...

    def state_before(self, row: int) -> tuple[int, Columns]:
        """(motion, material before it), of a motion no later than `row`."""
        ...


@dataclass(frozen=True)
class PlainRun:
    """Kept nowhere: what comes before a motion is the stock itself."""

    removal: Removal
    columns: Columns

    def state_before(self, row: int) -> tuple[int, Columns]:
        return 0, self.columns


Runner = Callable[[Motions, Mapping[int, Tool], Conditions, Columns, int], Ran]
"""Runs all motions over a stock; the last argument is the index of the setup."""


def plain_run(
    motions: Motions, tools: Mapping[int, Tool], conditions: Conditions, columns: Columns, setup: int
) -> PlainRun:
    """All motions at once, nothing kept."""
    return PlainRun(remove(columns, motions, tools, conditions), columns)


@dataclass(frozen=True)
class SetupCut:
    """What one setup did. part: the model on the stock's grid, or why there is none to compare with.

    begun: what it begins with. left: what it leaves of the largest blank and, where blanks differ, of the smallest;
    both in the setup's coordinates. left_of_part: `left` in the part's coordinates.
    """

    place: Place
    ran: Ran
    cut: Cut
    part: Part | str
    begun: Columns
    left: tuple[Columns, ...]
    left_of_part: tuple[Columns, ...]


@dataclass(frozen=True)
class Bench:
    """What stays the same from setup to setup. seconds: (n,) of each motion. limits: house rules that the shop set.

    shows_majors: the model has its threads at the major diameter. memory: bytes of columns. blank: the solid of a blank
    that is given by a model."""

    program: Program
    tools: Mapping[int, Tool]
    machine: Machine
    seconds: NDArray[np.float64]
    limits: Mapping[str, Decimal] = field(default_factory=dict)
    material: Material | None = None
    shows_majors: bool = False
    runner: Runner = plain_run
    memory: int = MEMORY
    blank: BlankMesh | None = None

    def limit(self, key: str) -> float:
        return HouseRules(self.limits).limit(key)

    def conditions(self, place: Place) -> Conditions:
        clearances = [self.limit(rule.key) for rule in LIMITS if rule.key.startswith("rapid_clearance")]
        return Conditions(
            self.machine,
            place.work_offset,
            workholding=tuple(solid.box for solid in place.holding),
            rapid_clearance_mm=max(clearances),
        )

    def setups(
        self, places: Sequence[Place], reading: Reading, mesh: Mesh | None, before: tuple[Columns, ...] = ()
    ) -> Iterator[SetupCut]:
        """Each setup's cut, in order. before: what stands there first of the largest and the smallest blank, in the
        part's coordinates; none: the blank of the first place."""
        stock = before
        for index, place in enumerate(places):
            there = stock or self._blanks(place)
            begun = tuple(placed(one, place.placement) for one in there)
            ran = self.runner(self.program.motions, self.tools, self.conditions(place), begun[0], index)
            part = self._part(reading, mesh, place, begun[0].grid, ran.removal)
            done = self._cut(ran, begun, there, place, part, is_blank=not stock)
            yield done
            stock = done.left_of_part

    def _cut(
        self,
        ran: Ran,
        begun: tuple[Columns, ...],
        there: tuple[Columns, ...],
        place: Place,
        part: Part | str,
        *,
        is_blank: bool,
    ) -> SetupCut:
        """there: what begins, in the part's coordinates."""
        conditions, motions = self.conditions(place), self.program.motions
        small = [remove(one, motions, self.tools, conditions) for one in begun[1:]]
        runs = [ran.removal, *small]
        known = None if isinstance(part, str) else part
        pairs = zip(begun, runs, strict=True)
        compared = [self._compared(known, place, *pair) for pair in pairs] if known is not None else []
        lowest, highest = begun[0].along(2).extremes()
        air = air_cuts(runs, motions, self.seconds, limit_mm3=AIR_MM3, least_s=AIR_S)
        material = self.material
        loads = loads_of(ran.removal, motions, self.seconds, self.tools, self.machine, material) if material else None
        cut = Cut(
            ran.removal,
            compared[0] if compared else None,
            lacking=compared[-1] if compared and is_blank else None,
            air=air,
            air_difference_mm=self._without(ran, conditions, air) if air else None,
            raw_top_mm=float(highest.max()),
            raw_bottom_mm=float(lowest.min()),
            holding=tuple(solid.name for solid in place.holding),
            loads=loads,
        )
        left = tuple(one.columns for one in runs)
        back = tuple(carried_back(*three, place.placement) for three in zip(there, begun, left, strict=True))
        return SetupCut(place, ran, cut, part, begun[0], left, back)

    def _compared(self, part: Part, place: Place, before: Columns, removal: Removal) -> Comparison:
        return compare_setup(
            part, before, removal, self.program.motions, self.tools, self.conditions(place),
            others=place.others, edge_break_mm=self.limit("edge_break"), shows_majors=self.shows_majors,
        )  # fmt: skip

    def _without(self, ran: Ran, conditions: Conditions, air: tuple[AirCut, ...]) -> float:
        begin, state = ran.state_before(air[0].first)
        return difference_without(state, ran.removal, self.program.motions, self.tools, conditions, air, begin=begin)

    def _blanks(self, place: Place) -> tuple[Columns, ...]:
        """The largest blank and, where it differs, the smallest, on one grid."""
        one_size(place.blank, place.smallest, place.form)
        thinnest = min((tool.diameter_mm for tool in self.tools.values()), default=MOST_TOOL_MM)
        grid = grid_for(place.blank, min(max(thinnest, LEAST_TOOL_MM), MOST_TOOL_MM), self.memory)
        boxes = dict.fromkeys((place.blank, place.smallest))
        return tuple(blank_columns(grid, box, place.form, self.blank) for box in boxes)

    def _part(self, reading: Reading, mesh: Mesh | None, place: Place, grid: Grid, removal: Removal) -> Part | str:
        """The model on the grid of the stock, or why there is none; the removal itself needs no model."""
        if mesh is None:
            return (
                "The picture of the model is no longer kept. Open the job's model once, then review this program again."
            )
        if not (removal.unswept == Unswept.SWEPT).any():
            return f"Nothing of this program moves in {offset_name(place.work_offset)}, the setup's work offset."
        try:
            return part_in(reading, mesh, place.placement, grid)
        except CoreError as why:
            return str(why)
