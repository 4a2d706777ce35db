"""Rows of cutting data: a table of the trade's numbers, and the shop's own numbers in the same columns.

A row may say a speed, a feed, a coolant or several of them. The defaults lie in seed_data/cutting_data.csv, each row
with its source.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from io import StringIO
from pathlib import Path

from shopflow.core.errors import CoreError
from shopflow.core.types import ToolCoating, ToolMaterial, ToolUse

DEFAULTS = Path(__file__).resolve().parents[3] / "seed_data" / "cutting_data.csv"
COATED = "coated"
"""In a row: any coating at all. Empty: with or without."""
COLUMNS = (
    "group", "tool_material", "coating", "uses", "diameter",
    "speed_low", "speed_usual", "speed_high", "feed_low", "feed_usual", "feed_high", "source",
    "coolant",
)  # fmt: skip
FIRST_GUESS_LOW, FIRST_GUESS_HIGH = 0.8, 1.25
"""Of a row that says only what is usual, how far either way is still inside (common practice, no source)."""


class BadRow(CoreError):
    """A row of cutting data cannot be read; the text says which one and why."""


@dataclass(frozen=True)
class Window:
    """From the lowest to the highest value that is in use, with the usual one between them, and where it comes from."""

    low: float
    usual: float
    high: float
    source: str = ""

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high

    def times(self, factor: float) -> Window:
        return Window(self.low * factor, self.usual * factor, self.high * factor, self.source)


class Way(StrEnum):
    """A way of cooling, or of doing without."""

    FLOOD = "flood"
    THROUGH = "through the tool"
    MIST = "mist"
    AIR = "air"
    DRY = "dry"


@dataclass(frozen=True)
class Ways:
    """usual: what is in use, the most usual first. decides: whether another one needs a decision or only a note."""

    usual: tuple[Way, ...]
    decides: bool = False
    why: str = ""
    source: str = ""


@dataclass(frozen=True)
class DataRow:
    """group: of work materials, or a material's name; "" for any. tool_material: None for any.

    coating: "" for any, "coated", or one ToolCoating. diameter_mm: None for every diameter. speed_m_min: surface speed.
    feed_mm: a tooth where the side of a mill cuts, a turn for what is fed along its axis. is_own: the shop's own.
    coolant: None where the row says nothing of it.
    """

    group: str
    tool_material: ToolMaterial | None
    coating: str
    uses: frozenset[ToolUse]
    diameter_mm: float | None
    speed_m_min: Window | None
    feed_mm: Window | None
    is_own: bool = False
    coolant: Ways | None = None


def window(low: float | None, usual: float | None, high: float | None, source: str) -> Window | None:
    """A window of three typed numbers, of which the outer two may be missing; None where nothing is typed.

    ValueError where they do not rise, or where the usual one is missing.
    """
    if usual is None:
        if low is not None or high is not None:
            raise ValueError("says the lowest or the highest value but not the usual one")
        return None
    lowest = usual * FIRST_GUESS_LOW if low is None else low
    highest = usual * FIRST_GUESS_HIGH if high is None else high
    if not 0 < lowest <= usual <= highest:
        raise ValueError("needs numbers above 0 that rise from low over usual to high")
    return Window(lowest, usual, highest, source)


def read_rows(lines: Iterable[Mapping[str, str]], *, is_own: bool = False) -> list[DataRow]:
    """Rows from their cells by column name, numbers in mm and m/min. Raises BadRow."""
    return [_row(number, cells, is_own=is_own) for number, cells in enumerate(lines, start=2)]


def read_csv(text: str, *, is_own: bool = False) -> list[DataRow]:
    """Rows from a CSV text whose first line names the columns. Raises BadRow."""
    return read_rows(csv.DictReader(StringIO(text)), is_own=is_own)


@cache
def default_rows() -> tuple[DataRow, ...]:
    """The defaults that come with shopflow."""
    return tuple(read_csv(DEFAULTS.read_text(encoding="utf-8")))


def _row(number: int, cells: Mapping[str, str], *, is_own: bool) -> DataRow:
    try:
        source = cells["source"].strip()
        uses = frozenset(ToolUse(use.strip()) for use in cells["uses"].split(";") if use.strip())
        coating = cells["coating"].strip()
        return DataRow(
            group=cells["group"].strip(),
            tool_material=ToolMaterial(cells["tool_material"].strip()) if cells["tool_material"].strip() else None,
            coating=coating if coating == COATED else ToolCoating(coating),
            uses=uses,
            diameter_mm=_number(cells["diameter"]),
            speed_m_min=_window(cells, "speed", source),
            feed_mm=_window(cells, "feed", source),
            is_own=is_own,
            coolant=_ways(cells.get("coolant") or "", source, decides=is_own),
        )
    except (KeyError, ValueError) as error:
        raise BadRow(f"line {number} of the cutting data: {error}") from error


def _ways(text: str, source: str, *, decides: bool) -> Ways | None:
    ways = tuple(Way(way.strip()) for way in text.split(";") if way.strip())
    return Ways(ways, decides, source=source) if ways else None


def _window(cells: Mapping[str, str], of: str, source: str) -> Window | None:
    low, usual, high = (_number(cells[f"{of}_{end}"]) for end in ("low", "usual", "high"))
    return window(low, usual, high, source)


def _number(text: str) -> float | None:
    return float(text) if text.strip() else None
