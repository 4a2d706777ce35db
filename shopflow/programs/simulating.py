"""Removing material with a program: from a setup's stock to what stands after it. Computes from its inputs alone.

Setups of one program run in the order of their numbers; the first takes up what the program before it left, where that
is known (review.simulation). Here pictures are made on the way, and what can be taken up again is kept.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import numpy as np

from shopflow.core import nc
from shopflow.core import review as rules
from shopflow.core.cutting.rows import DataRow
from shopflow.core.cutting.time import cycle_time
from shopflow.core.review.simulation import Bench, Place, SetupCut
from shopflow.core.solid import Mesh, Reading
from shopflow.core.stock import keeping
from shopflow.core.stock.blanks import BlankMesh
from shopflow.core.stock.checkpoints import Run
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.compare import Comparison
from shopflow.core.stock.compare_plan import Part
from shopflow.core.stock.lines import by_line
from shopflow.core.stock.loads import loads_by_line
from shopflow.core.stock.moves import Unswept
from shopflow.core.stock.profile import what_is_not_shown
from shopflow.core.stock.removal import Conditions, Removal
from shopflow.core.types import Machine, Material, Motions, Tool
from shopflow.programs import editing, stock_picture, typed
from shopflow.programs.deviation_picture import deviation_bytes
from shopflow.programs.drawing import rows_drawn
from shopflow.programs.reviewing import kept_findings
from shopflow.programs.stretches import run
from shopflow.programs.summary import summary
from shopflow.records import cache

__all__ = ["VERSION", "Asked", "Place", "asked_from", "simulate"]

VERSION = f"removal 12, edits 1, rules {rules.VERSION}, stock {keeping.VERSION}, 8 MB"
"""Raise the first number when this file would give another result; the grid follows from the last."""

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Asked:
    """content: SHA-256 of the program. model: name of the model's mesh in the cache. reading: key of the work that read
    the model. before: key of the work whose result is the stock of the first setup, "" for the blank. limits: what the
    shop set of the house rules that rules about cutting read (review.house_rules.CUT_KEYS). shows_majors: the model has
    its threads at the major diameter. own_data: the shop's own speeds and feeds. blank: key of the work that read the
    model of the blank, "" where it is none; the form of a place names its mesh in the cache."""

    content: str
    model: str
    reading: str
    before: str
    machine: Machine
    tools: tuple[Tool, ...]
    places: tuple[Place, ...]
    limits: dict[str, Decimal] = field(default_factory=dict)
    shows_majors: bool = False
    material: Material | None = None
    own_data: tuple[DataRow, ...] = ()
    blank: str = ""

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
    shares = [_share(progress, number, len(asked.places)) for number in range(len(asked.places))]

    def kept_run(
        motions: Motions, tools: Mapping[int, Tool], conditions: Conditions, columns: Columns, setup: int
    ) -> Run:
        return run(motions, tools, conditions, columns, shares[setup])

    bench = Bench(
        program,
        tools,
        asked.machine,
        seconds,
        asked.limits,
        asked.material,
        asked.shows_majors,
        runner=kept_run,
        blank=_blank(asked.places[0].form.model),
    )
    mesh, setups, found = _mesh(asked.model), list[dict[str, Any]](), list[rules.Finding]()
    left = before
    for share, done in zip(shares, bench.setups(asked.places, reading, mesh, before), strict=True):
        share(0.8, f"Judging setup {done.place.number}")
        found += rules.run(program, machine=asked.machine, tools=tools, cut=done.cut, rules=rules.CUT_RULES,
                           house_rules=rules.HouseRules(asked.limits), material=asked.material,
                           own_data=asked.own_data)  # fmt: skip
        _draw(bench, done, mesh, key)
        setups.append(
            _summary(done.place, done.cut.removal, done.cut.comparison or done.part)
            | {"not_shown": _not_shown(bench, done.cut.removal)}
        )
        left = done.left_of_part
    for number, columns in enumerate(left):
        cache.write(state_key(key, number), keeping.to_bytes(columns))
    sections = summary(program, seconds, {place.work_offset: place.number for place in asked.places})["sections"]
    kept = kept_findings(found, sections)
    edits = editing.proposals(editing.Given(program, asked.machine, asked.tools), kept)
    return {"findings": kept, "edits": edits, "setups": setups, "from_before": bool(before)}


def _share(progress: Progress, number: int, count: int) -> Progress:
    return lambda part, step: progress(5 + 93 * (number + part) / count, step)


def _draw(bench: Bench, done: SetupCut, mesh: Mesh | None, key: str) -> None:
    """Pictures of a setup into the cache."""
    place, motions, removal, comparison = done.place, bench.program.motions, done.cut.removal, done.cut.comparison
    offset = place.work_offset
    used = {number: bench.tools[number] for number in np.unique(motions.tool).tolist() if number in bench.tools}
    picture = stock_picture.picture_of(done.begun, motions, bench.tools, bench.conditions(place))
    for number, stretch in enumerate(picture.stretches):
        cache.write(stretch_key(key, offset, number), zlib.compress(stretch, 1))
    if mesh is not None and comparison is not None and not isinstance(done.part, str):
        deviation = deviation_bytes(removal.columns, mesh, done.part, comparison)
        cache.write(deviation_key(key, offset), zlib.compress(deviation, 1))
    shown = stock_picture.Shown(used, place.holding, deviates=comparison is not None)
    elapsed = np.cumsum(bench.seconds)[rows_drawn(motions, offset)]
    lines, loads = by_line(removal, motions), loads_by_line(done.cut.loads, motions)
    cache.write(picture_key(key, offset), picture.to_bytes(lines, loads, elapsed, shown))


def _mesh(name: str) -> Mesh | None:
    data = cache.read(name)
    return Mesh.from_bytes(data) if data else None


def _blank(name: str) -> BlankMesh | None:
    mesh = _mesh(name) if name else None
    return BlankMesh(mesh.points, mesh.triangles) if mesh else None


def _not_shown(bench: Bench, removal: Removal) -> list[str]:
    """What the columns do not show of the tools that cut here, a sentence for each."""
    cut = np.unique(bench.program.motions.tool[removal.unswept == Unswept.SWEPT]).tolist()
    said = ((number, what_is_not_shown(bench.tools[number])) for number in cut if number in bench.tools)
    return [f"T{number}: {words}" for number, words in said if words]


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
        "turned_mm": round(removal.columns.turned_mm, 3),
        "chord_mm": round(removal.chord_mm, 4),
        "removed_mm3": round(float(removal.volume_mm3.sum()), 1),
        "left_mm3": round(removal.columns.volume, 1),
    }
