"""Removing material with a program: from a setup's stock to what stands after it. Computes from its inputs alone.

Setups of one program run in the order of their numbers, each from what the one before left; the first takes up what the
program before it left, where that is known. A state is kept in the part's coordinates, so that any setup can take it.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core import nc
from shopflow.core import review as rules
from shopflow.core.cutting.time import cycle_time
from shopflow.core.errors import CoreError
from shopflow.core.review import Cut, air_rules, contact_rules, result_rules
from shopflow.core.review.house_rules import LIMITS
from shopflow.core.solid import Mesh, Reading
from shopflow.core.stock import keeping, shapes
from shopflow.core.stock.air import AirCut, air_cuts, difference_without
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.compare import Comparison
from shopflow.core.stock.compare_plan import OtherSetups, Part, compare_setup, part_in
from shopflow.core.stock.grid import Grid, grid_for
from shopflow.core.stock.holding import Solid
from shopflow.core.stock.lines import by_line
from shopflow.core.stock.moves import Unswept
from shopflow.core.stock.removal import Conditions, Removal, remove
from shopflow.core.stock.turn import placed
from shopflow.core.types import Box, Machine, Motions, Placement, Tool
from shopflow.programs import editing, stock_picture, typed
from shopflow.programs.deviation_picture import deviation_bytes
from shopflow.programs.drawing import rows_drawn
from shopflow.programs.reviewing import kept_findings
from shopflow.programs.stretches import Run, run
from shopflow.programs.summary import summary
from shopflow.records import cache

VERSION = f"removal 5, edits 1, rules {rules.VERSION}, stock {keeping.VERSION}, 8 MB"
"""Raise the first number when this file would give another result; the grid follows from the last."""

MEMORY = 8_000_000
"""Bytes of columns: a grid that answers in seconds (our choice)."""
LEAST_TOOL_MM, MOST_TOOL_MM = 2.0, 4.0
"""The grid is made for a thinnest tool between these (our choice); the page states it."""

AIR_MM3, AIR_S = 0.5, 3.0
"""A run that takes less than the first and costs more than the second is asked about (our choice)."""

CUT_RULES = (*contact_rules.RULES, *result_rules.RULES, *air_rules.RULES)

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Place:
    """One setup of the program. blank, smallest: the largest and the smallest one, in the part's coordinates, mm.

    others: the job's other setups. holding: what holds the part, in the setup's coordinates; none where the plan does
    not say enough.
    """

    number: int
    work_offset: int
    placement: Placement
    blank: Box
    smallest: Box
    others: OtherSetups = OtherSetups()
    holding: tuple[Solid, ...] = ()


@dataclass(frozen=True)
class Asked:
    """content: SHA-256 of the program. model: name of the model's mesh in the cache. reading: key of the work that read
    the model. before: key of the work whose result is the stock of the first setup, "" for the blank. limits: what the
    shop set of review.house_rules.LIMITS. shows_majors: the model has its threads at the major diameter."""

    content: str
    model: str
    reading: str
    before: str
    machine: Machine
    tools: tuple[Tool, ...]
    places: tuple[Place, ...]
    limits: dict[str, Decimal] = field(default_factory=dict)
    shows_majors: bool = False

    @property
    def plain(self) -> dict[str, Any]:
        data: dict[str, Any] = typed.plain(self)  # type: ignore[assignment]
        return data


def asked_from(data: dict[str, Any]) -> Asked:
    return typed.load(Asked, data)


def picture_key(work_key: str, offset: int) -> str:
    return cache.key("stock picture", work=work_key, offset=offset)


def stretch_key(work_key: str, offset: int, number: int) -> str:
    return cache.key("stock stretch", work=work_key, offset=offset, number=number)


def deviation_key(work_key: str, offset: int) -> str:
    return cache.key("stock deviation", work=work_key, offset=offset)


def state_key(work_key: str, blank: int = 0) -> str:
    """Of what is left of the largest blank (0) and, where blanks differ, of the smallest (1)."""
    return cache.key("stock state", work=work_key, blank=blank)


def states_left(work_key: str) -> tuple[Columns, ...]:
    """What a removal left of the largest and the smallest blank, in the part's coordinates; none where it is lost."""
    kept = (cache.read(state_key(work_key, blank)) for blank in range(2))
    return tuple(keeping.from_bytes(one) for one in kept if one)


def simulate(
    asked: Asked, data: bytes, before: tuple[Columns, ...], *, reading: Reading, key: str, progress: Progress
) -> dict[str, Any]:
    """The result that is kept: `findings`, `edits` (editing.proposals) and, for each setup, what `_summary` says of it.

    before: what the program before left of the largest and the smallest blank, none where this one starts from the
    blank. Pictures and the states that are left go to the cache under the work's key.
    """
    progress(2, "Reading the program")
    tools = {tool.number: tool for tool in asked.tools}
    program = nc.read(data, control=asked.machine.control, tools=tools)
    seconds = cycle_time(program.motions, asked.machine).row_s
    shop = _Shop(program, tools, asked.machine, seconds, asked.limits, asked.shows_majors)
    mesh, setups = _mesh(asked.model), list[dict[str, Any]]()
    stock = before
    found: list[rules.Finding] = []
    for number, place in enumerate(asked.places):
        share = _share(progress, number, len(asked.places))
        begun = tuple(_placed(one, place.placement) for one in stock or _blanks(place, asked.tools))
        ran = run(shop.motions, tools, shop.conditions(place), begun[0], share)
        part = _part(reading, mesh, place.placement, begun[0].grid)
        if not (ran.removal.unswept == Unswept.SWEPT).any():
            part = f"Nothing of this program moves in {nc.offset_name(place.work_offset)}, the setup's work offset."
        share(0.8, f"Comparing setup {place.number} with the model")
        known = None if isinstance(part, str) else part
        cut = shop.cut(ran, begun, place, known, is_blank=not stock)
        found += rules.run(program, machine=asked.machine, tools=tools, cut=cut.of_largest, rules=CUT_RULES)
        _draw(
            ran,
            shop,
            place,
            begun[0],
            _Seen(mesh, known, cut.of_largest.comparison),
            key,
        )
        setups.append(_summary(place, ran.removal, cut.of_largest.comparison or part))
        stock = tuple(_placed(one, _inverse(place.placement)) for one in cut.left)
    for number, left in enumerate(stock):
        cache.write(state_key(key, number), keeping.to_bytes(left))
    sections = summary(program, shop.seconds, {place.work_offset: place.number for place in asked.places})["sections"]
    kept = kept_findings(found, sections)
    edits = editing.proposals(editing.Given(program, asked.machine, asked.tools), kept)
    return {"findings": kept, "edits": edits, "setups": setups, "from_before": bool(before)}


@dataclass(frozen=True)
class _Cut:
    """left: what the setup leaves of the largest blank and, where blanks differ, of the smallest."""

    of_largest: Cut
    left: tuple[Columns, ...]


@dataclass(frozen=True)
class _Shop:
    """What stays the same from setup to setup. seconds: (n,) of each motion."""

    program: nc.Program
    tools: Mapping[int, Tool]
    machine: Machine
    seconds: NDArray[np.float64]
    limits: Mapping[str, Decimal]
    shows_majors: bool

    @property
    def motions(self) -> Motions:
        return self.program.motions

    def limit(self, key: str) -> float:
        return float(rules.HouseRules(self.limits).value(key))

    def conditions(self, place: Place) -> Conditions:
        clearances = [self.limit(rule.key) for rule in LIMITS if rule.key.startswith("rapid_clearance")]
        return Conditions(
            self.machine,
            place.work_offset,
            workholding=tuple(solid.box for solid in place.holding),
            rapid_clearance_mm=max(clearances),
        )

    def cut(self, ran: Run, begun: tuple[Columns, ...], place: Place, part: Part | None, *, is_blank: bool) -> _Cut:
        """What the rules look at. begun: the largest and, where blanks differ, the smallest stock of the setup."""
        conditions = self.conditions(place)
        small = [remove(one, self.motions, self.tools, conditions) for one in begun[1:]]
        runs = [ran.removal, *small]
        compared = [self._compared(part, place, *pair) for pair in zip(begun, runs, strict=True)] if part else []
        air = air_cuts(runs, self.motions, self.seconds, limit_mm3=AIR_MM3, least_s=AIR_S)
        cut = Cut(
            ran.removal,
            compared[0] if compared else None,
            lacking=compared[-1] if compared and is_blank else None,
            air=air,
            air_difference_mm=self._without(ran, conditions, air) if air else None,
            raw_top_mm=float(begun[0].along(2).extremes()[1].max()),
            holding=tuple(solid.name for solid in place.holding),
            changed=self.limits,
        )
        return _Cut(cut, tuple(one.columns for one in runs))

    def _compared(self, part: Part, place: Place, before: Columns, removal: Removal) -> Comparison:
        return compare_setup(
            part, before, removal, self.motions, self.tools, self.conditions(place),
            others=place.others, edge_break_mm=self.limit("edge_break"), shows_majors=self.shows_majors,
        )  # fmt: skip

    def _without(self, ran: Run, conditions: Conditions, air: tuple[AirCut, ...]) -> float:
        begin, state = ran.state_before(air[0].first)
        return difference_without(state, ran.removal, self.motions, self.tools, conditions, air, begin=begin)


def _share(progress: Progress, number: int, count: int) -> Progress:
    return lambda part, step: progress(5 + 93 * (number + part) / count, step)


def _blanks(place: Place, tools: tuple[Tool, ...]) -> tuple[Columns, ...]:
    """The largest blank and, where it differs, the smallest, on one grid."""
    thinnest = min((tool.diameter_mm for tool in tools), default=MOST_TOOL_MM)
    grid = grid_for(place.blank, min(max(thinnest, LEAST_TOOL_MM), MOST_TOOL_MM), MEMORY)
    return tuple(shapes.box(grid, box) for box in dict.fromkeys((place.blank, place.smallest)))


@dataclass(frozen=True)
class _Seen:
    """The model, as it stands in the setup, and how the stock compares with it; None where it was not compared."""

    mesh: Mesh | None
    part: Part | None
    comparison: Comparison | None


def _draw(ran: Run, shop: _Shop, place: Place, begun: Columns, seen: _Seen, key: str) -> None:
    """Pictures of a setup into the cache."""
    offset, motions = place.work_offset, shop.motions
    used = {number: shop.tools[number] for number in np.unique(motions.tool).tolist() if number in shop.tools}
    picture = stock_picture.picture_of(begun, motions, shop.tools, shop.conditions(place))
    for number, stretch in enumerate(picture.stretches):
        cache.write(stretch_key(key, offset, number), zlib.compress(stretch, 1))
    if seen.mesh is not None and seen.part is not None and seen.comparison is not None:
        deviation = deviation_bytes(ran.removal.columns, seen.mesh, seen.part, seen.comparison)
        cache.write(deviation_key(key, offset), zlib.compress(deviation, 1))
    shown = stock_picture.Shown(used, place.holding, deviates=seen.comparison is not None)
    elapsed = np.cumsum(shop.seconds)[rows_drawn(motions, offset)]
    cache.write(picture_key(key, offset), picture.to_bytes(by_line(ran.removal, motions), elapsed, shown))


def _mesh(name: str) -> Mesh | None:
    data = cache.read(name)
    return Mesh.from_bytes(data) if data else None


def _part(reading: Reading, mesh: Mesh | None, placement: Placement, grid: Grid) -> Part | str:
    """The model on the grid of the stock, or why there is none to compare with; the removal itself needs no model."""
    if mesh is None:
        return "The picture of the model is no longer kept. Open the job's model once, then review this program again."
    try:
        return part_in(reading, mesh, placement, grid)
    except CoreError as why:
        return str(why)


def _summary(place: Place, removal: Removal, compared: Comparison | Part | str) -> dict[str, Any]:
    """Numbers of a setup: `gouge_mm` and `stock_left_mm` against the model, or `not_compared`, why not."""
    said: dict[str, Any] = {"not_compared": compared if isinstance(compared, str) else ""}
    if isinstance(compared, Comparison):
        said |= {
            "gouge_mm": round(compared.gouge_mm, 3),
            "stock_left_mm": round(compared.stock_left_mm, 3),
            "error_mm": round(compared.tolerance_mm + compared.curved_mm, 3),
            "unknown": len(place.others.unknown),
        }
    said["holding"] = [solid.name for solid in place.holding]
    said["blanks_differ"] = place.blank != place.smallest
    return said | {
        "number": place.number,
        "offset": place.work_offset,
        "grid_mm": round(removal.grid.pitch, 3),
        "removed_mm3": round(float(removal.volume_mm3.sum()), 1),
        "left_mm3": round(removal.columns.volume, 1),
    }


def _placed(columns: Columns, placement: Placement) -> Columns:
    return placed(columns, placement).columns


def _inverse(placement: Placement) -> Placement:
    back = np.array(placement.rotation).reshape(3, 3).T
    origin = -(back @ np.array(placement.origin_mm))
    return Placement(tuple(back.reshape(-1).tolist()), (float(origin[0]), float(origin[1]), float(origin[2])))
