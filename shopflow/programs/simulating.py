"""Removing material with a program: from a setup's stock to what stands after it. Computes from its inputs alone.

Setups of one program run in the order of their numbers, each from what the one before left; the first takes up what the
program before it left, where that is known. A state is kept in the part's coordinates, so that any setup can take it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core import nc
from shopflow.core import review as rules
from shopflow.core.cutting.time import cycle_time
from shopflow.core.errors import CoreError, NotPossible
from shopflow.core.review import Cut, air_rules, contact_rules, result_rules
from shopflow.core.review.house_rules import LIMITS
from shopflow.core.solid import Mesh, Reading
from shopflow.core.stock import keeping, shapes
from shopflow.core.stock.air import air_cuts
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.compare import Comparison
from shopflow.core.stock.compare_plan import OtherSetups, Part, compare_setup, part_in
from shopflow.core.stock.grid import Grid, grid_for
from shopflow.core.stock.lines import by_line
from shopflow.core.stock.moves import Unswept
from shopflow.core.stock.removal import Conditions, Removal, joined, remove
from shopflow.core.stock.turn import placed
from shopflow.core.types import Box, Machine, Motions, Placement, Tool
from shopflow.programs import editing, typed
from shopflow.programs.reviewing import kept_findings
from shopflow.programs.stock_picture import Frames
from shopflow.programs.summary import summary
from shopflow.records import cache

VERSION = f"removal 2, edits 1, rules {rules.VERSION}, stock {keeping.VERSION}, 8 MB"
"""Raise the first number when this file would give another result; the grid follows from the last."""

MEMORY = 8_000_000
"""Bytes of columns: a grid that answers in seconds (our choice)."""
MOST_FRAMES = 40
LEAST_TOOL_MM, MOST_TOOL_MM = 2.0, 4.0
"""The grid is made for a thinnest tool between these (our choice); the page states it."""

AIR_MM3, AIR_S = 0.5, 3.0
"""A run that takes less than the first and costs more than the second is asked about (our choice)."""

CUT_RULES = (*contact_rules.RULES, *result_rules.RULES, *air_rules.RULES)

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Place:
    """One setup of the program. blank: in the part's coordinates, mm. others: the job's other setups."""

    number: int
    work_offset: int
    placement: Placement
    blank: Box
    others: OtherSetups = OtherSetups()


@dataclass(frozen=True)
class Asked:
    """content: SHA-256 of the program. model: name of the model's mesh in the cache. reading: key of the work that read
    the model. before: key of the work whose result is the stock of the first setup, "" for the blank. limits: what the
    shop set of review.house_rules.LIMITS."""

    content: str
    model: str
    reading: str
    before: str
    machine: Machine
    tools: tuple[Tool, ...]
    places: tuple[Place, ...]
    limits: dict[str, Decimal] = field(default_factory=dict)

    @property
    def plain(self) -> dict[str, Any]:
        data: dict[str, Any] = typed.plain(self)  # type: ignore[assignment]
        return data


def asked_from(data: dict[str, Any]) -> Asked:
    return typed.load(Asked, data)


def picture_key(work_key: str, offset: int) -> str:
    return cache.key("stock picture", work=work_key, offset=offset)


def state_key(work_key: str) -> str:
    return cache.key("stock state", work=work_key)


def simulate(
    asked: Asked, data: bytes, before: Columns | None, *, reading: Reading, key: str, progress: Progress
) -> dict[str, Any]:
    """The result that is kept: `findings`, `edits` (editing.proposals) and, for each setup, what `_summary` says of it.

    Pictures and the state that is left go to the cache under the work's key.
    """
    progress(2, "Reading the program")
    tools = {tool.number: tool for tool in asked.tools}
    program = nc.read(data, control=asked.machine.control, tools=tools)
    shop = _Shop(program, tools, asked.machine, cycle_time(program.motions, asked.machine).row_s, asked.limits)
    mesh, stock, setups = _mesh(asked.model), before, list[dict[str, Any]]()
    found: list[rules.Finding] = []
    for number, place in enumerate(asked.places):
        share = _share(progress, number, len(asked.places))
        columns = _placed(stock if stock is not None else _blank(place, asked.tools), place.placement)
        frames, removal = _run(shop, place, columns, share)
        part = _part(reading, mesh, place.placement, columns.grid)
        share(0.9, f"Comparing setup {place.number} with the model")
        if not (removal.unswept == Unswept.SWEPT).any():
            part = f"Nothing of this program moves in {nc.offset_name(place.work_offset)}, the setup's work offset."
        comparison = None if isinstance(part, str) else shop.compare(part, place, columns, removal)
        found += shop.judged(columns, removal, comparison)
        _draw(frames, removal, shop, part, picture_key(key, place.work_offset))
        setups.append(_summary(place, removal, comparison if comparison else part))
        stock = _placed(removal.columns, _inverse(place.placement))
    if stock is not None:
        cache.write(state_key(key), keeping.to_bytes(stock))
    sections = summary(program, shop.seconds, {place.work_offset: place.number for place in asked.places})["sections"]
    kept = kept_findings(found, sections)
    edits = editing.proposals(editing.Given(program, asked.machine, asked.tools), kept)
    return {"findings": kept, "edits": edits, "setups": setups, "from_before": before is not None}


@dataclass(frozen=True)
class _Shop:
    """What stays the same from setup to setup. seconds: (n,) of each motion."""

    program: nc.Program
    tools: Mapping[int, Tool]
    machine: Machine
    seconds: NDArray[np.float64]
    limits: Mapping[str, Decimal]

    @property
    def motions(self) -> Motions:
        return self.program.motions

    def limit(self, key: str) -> float:
        return float(rules.HouseRules(self.limits).value(key))

    def conditions(self, place: Place) -> Conditions:
        clearances = [self.limit(rule.key) for rule in LIMITS if rule.key.startswith("rapid_clearance")]
        return Conditions(self.machine, place.work_offset, rapid_clearance_mm=max(clearances))

    def compare(self, part: Part, place: Place, before: Columns, removal: Removal) -> Comparison:
        return compare_setup(
            part, before, removal, self.motions, self.tools, self.conditions(place),
            others=place.others, edge_break_mm=self.limit("edge_break"),
        )  # fmt: skip

    def judged(self, columns: Columns, removal: Removal, comparison: Comparison | None) -> tuple[rules.Finding, ...]:
        """What the rules about cutting say of one setup. columns: its stock as it came."""
        air = air_cuts([removal], self.motions, self.seconds, limit_mm3=AIR_MM3, least_s=AIR_S)
        top = float(columns.along(2).extremes()[1].max())
        cut = Cut(removal, comparison, air=air, raw_top_mm=top, changed=self.limits)
        return rules.run(self.program, machine=self.machine, tools=self.tools, cut=cut, rules=CUT_RULES)


def _share(progress: Progress, number: int, count: int) -> Progress:
    return lambda part, step: progress(5 + 93 * (number + part) / count, step)


def _blank(place: Place, tools: tuple[Tool, ...]) -> Columns:
    thinnest = min((tool.diameter_mm for tool in tools), default=MOST_TOOL_MM)
    return shapes.box(grid_for(place.blank, min(max(thinnest, LEAST_TOOL_MM), MOST_TOOL_MM), MEMORY), place.blank)


def _run(shop: _Shop, place: Place, columns: Columns, progress: Progress) -> tuple[Frames, Removal]:
    """All motions in stretches, with a picture after each."""
    frames, parts = Frames(columns), list[Removal]()
    frames.add(columns, 0)
    motions, conditions = shop.motions, shop.conditions(place)
    bounds = _bounds(motions, place.work_offset)
    for begin, end in zip(bounds, bounds[1:], strict=False):
        progress(0.9 * begin / max(len(motions), 1), f"Removing material in setup {place.number}")
        part = remove(parts[-1].columns if parts else columns, motions, shop.tools, conditions, begin=begin, end=end)
        parts.append(part)
        if part.volume_mm3.any():
            frames.add(part.columns, int(motions.line[end - 1]))
    return frames, joined(parts)


def _bounds(motions: Motions, offset: int) -> list[int]:
    """Where a picture is made: at changes of tool and offset, and evenly between them."""
    count = len(motions)
    if not count:
        raise NotPossible("The program moves nothing.")
    changes = np.flatnonzero((np.diff(motions.tool) != 0) | (np.diff(motions.work_offset) != 0)) + 1
    mine = np.flatnonzero(motions.work_offset == offset)
    even = mine[np.linspace(0, len(mine) - 1, min(MOST_FRAMES, len(mine))).astype(int)] + 1 if len(mine) else []
    few = changes if len(changes) <= MOST_FRAMES else changes[:0]
    return sorted({0, count, *(int(row) for row in few), *(int(row) for row in even)})


def _draw(frames: Frames, removal: Removal, shop: _Shop, part: Part | str, name: str) -> None:
    used = {number: shop.tools[number] for number in np.unique(shop.motions.tool).tolist() if number in shop.tools}
    deviation = None if isinstance(part, str) else frames.deviation(removal.columns, part.model)
    cache.write(name, frames.to_bytes(by_line(removal, shop.motions), used, deviation))


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
