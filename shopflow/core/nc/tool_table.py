"""A tool table as a CSV file, one tool a row, headed by the field names of `Tool`."""

from __future__ import annotations

import csv
import io
from dataclasses import fields
from typing import Any

from shopflow.core.errors import Unreadable
from shopflow.core.types import Tool, ToolMaterial, ToolShape

_NEEDED = ("number", "name", "shape", "diameter_mm")
_WHOLE = frozenset({"number", "flutes"})
_YES_NO = {"yes": True, "no": False, "true": True, "false": False, "1": True, "0": False}
_COLUMNS = frozenset(field.name for field in fields(Tool)) - {"uses", "holder"}
_MEND = f"The first line names the columns: {', '.join(_NEEDED)}, and any more of a tool's."


def read_tool_table(data: bytes) -> dict[int, Tool]:
    """Tools by number. Raises Unreadable with the line for what is no tool table."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Unreadable("The tool table is not plain text (UTF-8).", mend=_MEND) from None
    rows = csv.DictReader(io.StringIO(text))
    columns = {name.strip() for name in rows.fieldnames or ()}
    missing, unknown = set(_NEEDED) - columns, columns - _COLUMNS
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
        except (ValueError, KeyError):
            raise Unreadable(f"“{text}” is no {column} of a tool.", where=f"line {line}") from None
    if not set(_NEEDED) <= set(given):
        raise Unreadable(f"A tool lacks its {', '.join(sorted(set(_NEEDED) - set(given)))}.", where=f"line {line}")
    return Tool(**given)


def _value(column: str, text: str) -> Any:
    if column == "name":
        return text
    if column == "shape":
        return ToolShape(text.lower())
    if column == "material":
        return ToolMaterial(text.lower())
    if column in ("centre_cutting", "through_coolant"):
        return _YES_NO[text.lower()]
    return int(text) if column in _WHOLE else float(text)
