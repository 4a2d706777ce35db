"""A tool table as a CSV file, one tool a row, headed by the field names of `Tool`."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from shopflow.core.errors import Unreadable
from shopflow.core.types import Holder, Tool, ToolCoating, ToolMaterial, ToolShape, ToolUse

_NEEDED = ("number", "name", "shape", "diameter_mm")
_WHOLE = frozenset({"number", "flutes"})
_YES_NO = {"yes": True, "no": False, "true": True, "false": False, "1": True, "0": False}
_COLUMNS = tuple(field.name for field in fields(Tool))
_MEND = f"The first line names the columns: {', '.join(_NEEDED)}, and any more of a tool's."


def read_tool_table(data: bytes) -> dict[int, Tool]:
    """Tools by number. Raises Unreadable with the line for what is no tool table."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Unreadable("The tool table is not plain text (UTF-8).", mend=_MEND) from None
    rows = csv.DictReader(io.StringIO(text))
    columns = {name.strip() for name in rows.fieldnames or ()}
    missing, unknown = set(_NEEDED) - columns, columns - set(_COLUMNS)
    if missing or unknown:
        what = f"lacks {', '.join(sorted(missing))}" if missing else f"has unknown columns {', '.join(sorted(unknown))}"
        raise Unreadable(f"The tool table {what}.", where="line 1", mend=_MEND)
    tools: dict[int, Tool] = {}
    for line, row in enumerate(rows, start=2):
        tool = _tool(row, line)
        if tool.number in tools:
            raise Unreadable(f"Tool {tool.number} stands twice in the tool table.", where=f"line {line}")
        tools[tool.number] = tool
    return tools


def _tool(row: dict[str, str], line: int) -> Tool:
    given: dict[str, Any] = {}
    for column, text in row.items():
        if text is None or not str(text).strip():
            continue
        try:
            given[column.strip()] = _value(column.strip(), str(text).strip())
        except (ValueError, KeyError, StopIteration):
            raise Unreadable(f"“{text}” is no {column} of a tool.", where=f"line {line}") from None
    if not set(_NEEDED) <= set(given):
        raise Unreadable(f"A tool lacks its {', '.join(sorted(set(_NEEDED) - set(given)))}.", where=f"line {line}")
    return Tool(**given)


def _value(column: str, text: str) -> Any:
    if column == "name":
        return text
    if column == "shape":
        return next(shape for shape in ToolShape if shape.value.lower() == text.lower())
    if column == "material":
        return ToolMaterial(text.lower())
    if column == "coating":
        return ToolCoating(text)
    if column == "uses":
        return frozenset(ToolUse(use.strip().lower()) for use in text.split(";") if use.strip())
    if column == "holder":
        return _holder(text)
    if column in ("centre_cutting", "through_coolant"):
        return _YES_NO[text.lower()]
    return int(text) if column in _WHOLE else float(text)


def _holder(text: str) -> Holder:
    """A holder by its profile, pairs of height above the nose and diameter: "0 32; 38 32; 38 50"."""
    pairs = [tuple(float(word) for word in pair.split()) for pair in text.split(";") if pair.strip()]
    return Holder("", tuple((height, diameter) for height, diameter in pairs))


def write_tool_table(tools: Iterable[Tool]) -> str:
    """The table; read_tool_table gives equal tools back, except that a holder is named by nothing."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_COLUMNS)
    writer.writerows([_text(getattr(tool, name)) for name in _COLUMNS] for tool in tools)
    return out.getvalue()


def _text(value: Any) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case frozenset():
            return "; ".join(sorted(use.value for use in value))
        case Holder():
            return "; ".join(f"{height!r} {diameter!r}" for height, diameter in value.profile)
        case float() | int():
            return repr(value)
    return str(value)
