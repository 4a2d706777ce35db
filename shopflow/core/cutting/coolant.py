"""Which coolant is usual for a tool, a material and a use: the shop's own row first, then the closest of a table.

The table lies in seed_data/coolant.csv. All of it is common practice without a source, and shops differ: it never says
more than that something is unusual.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from functools import cache
from io import StringIO
from pathlib import Path

from shopflow.core.cutting.choosing import first_fit
from shopflow.core.cutting.rows import DataRow, Way, Ways
from shopflow.core.types import Coolant, Material, Tool, ToolCoating, ToolMaterial, ToolShape, ToolUse

DEFAULTS = Path(__file__).resolve().parents[3] / "seed_data" / "coolant.csv"
SOURCE = "common practice, no source"

BITS = {Way.MIST: Coolant.MIST, Way.FLOOD: Coolant.FLOOD, Way.THROUGH: Coolant.THROUGH, Way.AIR: Coolant.AIR}
CODES = {Way.MIST: "M7", Way.FLOOD: "M8", Way.DRY: "M9"}
"""NISTIR 6556, 3.6.4; the others are codes of the control's builder."""

_BY_SHAPE = {
    ToolShape.FACE: ToolUse.FACE, ToolShape.BALL: ToolUse.SURFACE, ToolShape.DRILL: ToolUse.DRILL,
    ToolShape.SPOT: ToolUse.SPOT, ToolShape.COUNTERSINK: ToolUse.COUNTERSINK, ToolShape.CHAMFER: ToolUse.CHAMFER,
    ToolShape.COUNTERBORE: ToolUse.COUNTERBORE, ToolShape.REAMER: ToolUse.REAM, ToolShape.TAP: ToolUse.TAP,
    ToolShape.BORE: ToolUse.BORE,
}  # fmt: skip
_FINISHES = frozenset({ToolUse.WALL, ToolUse.FLOOR})


def main_use(tool: Tool) -> ToolUse | None:
    """What a tool of this shape is mostly there for, as far as coolant differs by it; None for a probe."""
    if tool.shape is ToolShape.PROBE:
        return None
    only_finishes = bool(tool.uses) and tool.uses <= _FINISHES
    return _BY_SHAPE.get(tool.shape, ToolUse.WALL if only_finishes else ToolUse.ROUGH)


def usual_coolant(tool: Tool, material: Material | None, own: Iterable[DataRow] = ()) -> Ways | None:
    """What the closest row says; None where none fits, as for a material of no known group."""
    use = main_use(tool)
    if material is None or use is None:
        return None
    rows = (*(row for row in own if row.coolant), *default_rows())
    row = first_fit(rows, material, tool, use)
    return row.coolant if row else None


def running(coolant: int) -> frozenset[Way]:
    """What runs under these Coolant bits; dry where none does."""
    return frozenset(way for way, bit in BITS.items() if coolant & bit) or frozenset({Way.DRY})


@cache
def default_rows() -> tuple[DataRow, ...]:
    """The table that comes with shopflow, in its order."""
    cells = csv.DictReader(StringIO(DEFAULTS.read_text(encoding="utf-8")))
    return tuple(
        DataRow(
            group=row["group"],
            tool_material=ToolMaterial(row["tool_material"]) if row["tool_material"] else None,
            coating=row["coating"] if row["coating"] == "coated" else ToolCoating(row["coating"]),
            uses=frozenset(map(ToolUse, row["uses"].split("; "))) if row["uses"] else frozenset(ToolUse),
            diameter_mm=None,
            speed_m_min=None,
            feed_mm=None,
            coolant=Ways(tuple(map(Way, row["ways"].split("; "))), row["weight"] == "decide", row["why"], SOURCE),
        )
        for row in cells
    )
