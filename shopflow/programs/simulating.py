"""Removing material with a program: from a setup's stock to what stands after it. Computes from its inputs alone.

Setups of one program run in the order of their numbers, each from what the one before left; the first takes up what the
program before it left, where that is known. A state is kept in the part's coordinates, so that any setup can take it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core import nc
from shopflow.core import review as rules
from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.errors import CoreError, NotPossible
from shopflow.core.review import Cut, air_rules, contact_rules
from shopflow.core.solid import Mesh
from shopflow.core.stock import keeping, shapes
from shopflow.core.stock.air import air_cuts
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.from_mesh import from_mesh
from shopflow.core.stock.grid import grid_for
from shopflow.core.stock.lines import by_line
from shopflow.core.stock.removal import Conditions, Removal, joined, remove
from shopflow.core.stock.turn import placed
from shopflow.core.types import Box, Machine, Motions, Placement, Tool
from shopflow.programs import typed
from shopflow.programs.reviewing import kept_findings
from shopflow.programs.stock_picture import Frames
from shopflow.programs.summary import summary
from shopflow.records import cache

VERSION = f"removal 1, rules {rules.VERSION}, stock {keeping.VERSION}, 8 MB"
"""Raise the first number when this file would give another result; the grid follows from the last."""

MEMORY = 8_000_000
"""Bytes of columns: a grid that answers in seconds (our choice)."""
MOST_FRAMES = 40
LEAST_TOOL_MM, MOST_TOOL_MM = 2.0, 4.0
"""The grid is made for a thinnest tool between these (our choice); the page states it."""

AIR_MM3, AIR_S = 0.5, 3.0
"""A run that takes less than the first and costs more than the second is asked about (our choice)."""

CUT_RULES = (*contact_rules.RULES, *air_rules.RULES)
"""Gaps of rapids are not measured yet: a drill that leaves its own hole at rapid would be taken for one too near."""

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Place:
    """One setup of the program. blank: in the part's coordinates, mm."""

    number: int
    work_offset: int
    placement: Placement
    blank: Box


@dataclass(frozen=True)
class Asked:
    """content: SHA-256 of the program. model: name of its mesh in the cache. before: key of the work whose result is
    the stock of the first setup, "" for the blank."""

    content: str
    model: str
    before: str
    machine: Machine
    tools: tuple[Tool, ...]
    places: tuple[Place, ...]

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


def simulate(asked: Asked, data: bytes, before: Columns | None, *, key: str, progress: Progress) -> dict[str, Any]:
    """The result that is kept: `findings` and, for each setup, `number`, `grid_mm`, `removed_mm3`.

    Pictures and the state that is left go to the cache under the work's key.
    """
    progress(2, "Reading the program")
    tools = {tool.number: tool for tool in asked.tools}
    program = nc.read(data, control=asked.machine.control, tools=tools)
    seconds = cycle_time(program.motions, asked.machine or TYPICAL_MACHINE).row_s
    stock, setups = before, list[dict[str, Any]]()
    found: list[rules.Finding] = []
    for number, place in enumerate(asked.places):
        share = _share(progress, number, len(asked.places))
        columns = _placed(stock if stock is not None else _blank(place, asked.tools), place.placement)
        frames, removal = _run(program.motions, tools, asked.machine, place, columns, share)
        found += _judged(program, tools, asked.machine, removal, seconds)
        _draw(frames, removal, program.motions, tools, asked, place, picture_key(key, place.work_offset))
        setups.append(_summary(place, removal))
        stock = _placed(removal.columns, _inverse(place.placement))
    if stock is not None:
        cache.write(state_key(key), keeping.to_bytes(stock))
    sections = summary(program, seconds, {place.work_offset: place.number for place in asked.places})["sections"]
    return {"findings": kept_findings(found, sections), "setups": setups, "from_before": before is not None}


def _judged(
    program: nc.Program, tools: Mapping[int, Tool], machine: Machine, removal: Removal, seconds: NDArray[np.float64]
) -> tuple[rules.Finding, ...]:
    """What the rules about cutting say of one setup. Not yet against the model: what later setups cut is not told."""
    air = air_cuts([removal], program.motions, seconds, limit_mm3=AIR_MM3, least_s=AIR_S)
    cut = Cut(removal, air=air)
    return rules.run(program, machine=machine, tools=tools, cut=cut, rules=CUT_RULES)


def _share(progress: Progress, number: int, count: int) -> Progress:
    return lambda part, step: progress(5 + 93 * (number + part) / count, step)


def _blank(place: Place, tools: tuple[Tool, ...]) -> Columns:
    thinnest = min((tool.diameter_mm for tool in tools), default=MOST_TOOL_MM)
    return shapes.box(grid_for(place.blank, min(max(thinnest, LEAST_TOOL_MM), MOST_TOOL_MM), MEMORY), place.blank)


def _run(
    motions: Motions, tools: Mapping[int, Tool], machine: Machine, place: Place, columns: Columns, progress: Progress
) -> tuple[Frames, Removal]:
    """All motions in stretches, with a picture after each."""
    frames, parts = Frames(columns), list[Removal]()
    frames.add(columns, 0)
    conditions = Conditions(machine, place.work_offset)
    bounds = _bounds(motions, place.work_offset)
    for begin, end in zip(bounds, bounds[1:], strict=False):
        progress(begin / max(len(motions), 1), f"Removing material in setup {place.number}")
        part = remove(parts[-1].columns if parts else columns, motions, tools, conditions, begin=begin, end=end)
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


def _draw(
    frames: Frames, removal: Removal, motions: Motions, tools: Mapping[int, Tool], asked: Asked, place: Place, name: str
) -> None:
    used = {number: tools[number] for number in np.unique(motions.tool).tolist() if number in tools}
    model = _model(asked.model, removal.columns, place.placement)
    deviation = None if model is None else frames.deviation(removal.columns, model)
    cache.write(name, frames.to_bytes(by_line(removal, motions), used, deviation))


def _model(name: str, columns: Columns, placement: Placement) -> Columns | None:
    """The model on the grid of the stock; None where its mesh is gone from the cache or is not closed."""
    data = cache.read(name)
    if data is None:
        return None
    mesh = Mesh.from_bytes(data)
    turned = mesh.points.astype(np.float64) @ np.array(placement.rotation).reshape(3, 3).T
    try:
        return from_mesh(columns.grid, turned + np.array(placement.origin_mm), mesh.triangles)
    except CoreError:
        return None  # the page then shows no deviation; the removal itself needs no model


def _summary(place: Place, removal: Removal) -> dict[str, Any]:
    return {
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
