"""Writing SETUP.toml and the files that it names. `setup_file.read_setup_file` gives equal values back."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from shopflow.core.cutting.rows import COLUMNS, DataRow, Window
from shopflow.core.nc import CONTROLS, PLAIN, write_control
from shopflow.core.nc.tool_table import write_tool_table
from shopflow.core.review.finding import PlanFacts
from shopflow.core.review.life import OnHand
from shopflow.core.review.setup_tables import MACHINE_KEYS, MATERIAL_KEYS
from shopflow.core.review.setup_values import LETTERS, SCHEMA, SetupBlock, SetupFile
from shopflow.core.types import ControlProfile

TOOLS, CONTROL, OWN_DATA = "tools.csv", "control.json", "cutting_data.csv"
"""Names of the files beside SETUP.toml."""


def written(said: SetupFile, name: str = "SETUP.toml") -> dict[str, str]:
    """Texts by file name: the setup file under `name` and what it names, except models."""
    control, files = said.machine.control, {TOOLS: write_tool_table(said.tools)}
    is_built_in = CONTROLS.get(control.name) == control
    if not is_built_in:
        files[CONTROL] = write_control(control, based_on=_base(control))
    if said.own_data:
        files[OWN_DATA] = _own_data(said.own_data)
    return {name: _text(said, control.name if is_built_in else CONTROL), **files}


def _base(control: ControlProfile) -> str:
    return control.name if control.name in CONTROLS else PLAIN.name


def _text(said: SetupFile, control: str) -> str:
    top: dict[str, Any] = {"schema": SCHEMA, "model": said.model}
    top |= {"solid": said.solid} if said.solid is not None else {}
    top |= {"threads_at_major": True} if said.threads_at_major else {}
    top |= {"tools": TOOLS, "control": control} | ({"cutting_data": OWN_DATA} if said.own_data else {})
    machine = {key: getattr(said.machine, key) for key in MACHINE_KEYS}
    parts = [_pairs(top), _table("machine", machine)]
    if said.material is not None:
        parts.append(_table("material", {key: getattr(said.material, key) for key in MATERIAL_KEYS}))
    parts.append(_table("blank", _blank(said)))
    for hole in said.form.holes:
        made = {"axis": LETTERS[hole.axis], "at_mm": hole.at, "diameter_mm": hole.diameter_mm}
        parts.append("[[blank.hole]]\n" + _pairs(made))
    if said.limits:
        parts.append(_table("house_rules", {key: str(value) for key, value in said.limits.items()}))
    parts += [*_plan(said.plan), *_on_hand(said.on_hand), *(text for block in said.setups for text in _setup(block))]
    return "\n\n".join(parts) + "\n"


def _blank(said: SetupFile) -> dict[str, Any]:
    if said.form.model:
        return {"model": said.form.model}
    blank: dict[str, Any] = {"largest_mm": said.blank}
    blank |= {"smallest_mm": said.smallest} if said.smallest != said.blank else {}
    return blank | ({"round_along": LETTERS[said.form.round_along]} if said.form.round_along >= 0 else {})


def _plan(plan: PlanFacts) -> Iterator[str]:
    numbers = {name: said for name in ("minutes", "tools", "order") if (said := getattr(plan, name))}
    if numbers:
        yield _table("plan", numbers)
    if plan.orders:
        yield "[plan.order]\n" + _pairs({json.dumps(offset): tools for offset, tools in plan.orders})
    for touch in plan.person_touches:
        yield "[[plan.touch]]\n" + _pairs(
            {"after_setup": touch.after_setup, "reason": touch.reason, "work_offset": touch.work_offset,
             "next_work_offset": touch.next_work_offset}
        )  # fmt: skip


def _on_hand(on_hand: OnHand) -> Iterator[str]:
    if on_hand.pieces:
        yield _table("lot", {"pieces": on_hand.pieces})
    for wear in on_hand.wear:
        left = {} if wear.left is None else {"left": wear.left, "unit": wear.unit.value}
        finishes = {"finishes": True} if wear.finishes else {}
        yield "[[wear]]\n" + _pairs({"tool": wear.number, "edge": wear.edge.value} | left | finishes)


def _setup(block: SetupBlock) -> Iterator[str]:
    names = ("number", "work_offset", "up", "along_x", "zero_mm", "later", "known", "unknown")
    said = {name: getattr(block, name) for name in ("program", "angles_deg") if any(getattr(block, name))}
    said |= {name: getattr(block, name) for name in names} | ({"tools": block.tools} if block.tools else {})
    yield "[[setup]]\n" + _pairs(said)
    for solid in block.solids:
        yield "[[setup.workholding]]\n" + _pairs({"name": solid.name, "box_mm": solid.box})


def _table(name: str, values: dict[str, Any]) -> str:
    return f"[{name}]\n{_pairs(values)}"


def _pairs(values: dict[str, Any]) -> str:
    return "\n".join(f"{key} = {_value(value)}" for key, value in values.items())


def _value(value: Any) -> str:
    """A TOML value. A basic string of TOML takes JSON's escapes; a number is the shortest text that gives it back."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_value(one) for one in value)}]"
    return repr(value)


def _own_data(rows: Sequence[DataRow]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(_row(row) for row in rows)
    return out.getvalue()


def _row(row: DataRow) -> Iterable[str]:
    speed, feed = _window(row.speed_m_min), _window(row.feed_mm)
    source = next((one.source for one in (row.speed_m_min, row.feed_mm, row.coolant) if one), "")
    material = row.tool_material.value if row.tool_material else ""
    uses = "; ".join(sorted(use.value for use in row.uses))
    diameter = "" if row.diameter_mm is None else repr(row.diameter_mm)
    coolant = "; ".join(row.coolant.usual) if row.coolant else ""
    return (row.group, material, str(row.coating), uses, diameter, *speed, *feed, source, coolant)


def _window(window: Window | None) -> tuple[str, str, str]:
    if window is None:
        return "", "", ""
    return repr(window.low), repr(window.usual), repr(window.high)


__all__ = ["CONTROL", "OWN_DATA", "TOOLS", "written"]
