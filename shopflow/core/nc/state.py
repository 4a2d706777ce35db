"""What the control remembers between blocks, and the rows that its motions are written to."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc.modes import Modes
from shopflow.core.nc.transforms import Transform
from shopflow.core.types import Coolant, Motions

MM_PER_IN = 25.4
NAN3 = (math.nan, math.nan, math.nan)


@dataclass(slots=True)
class Cycle:
    """The canned cycle in force: its sticky words as given, and the level before the series began."""

    code: int
    words: dict[str, float] = field(default_factory=dict)
    level: float = 0.0


@dataclass(slots=True)
class State:
    """Modal state. position: mm in the active work offset's coordinates, G92 folded in; known: axis by axis.

    motion: G code times ten of group 1. unit_mm: mm in one unit of length. feed_mm_min: of G94, NaN without one;
    feed_word: F as given, for G93 and G95 (mm). shift: the G92 offsets, mm; local_shift: of G52. absolute_centres: I J
    and K are places (G90.1). origins: of work offsets in machine coordinates, mm, NaN where not known. machine: last
    place known in machine coordinates, NaN where not known. tool_change_up: an M6 has taken the spindle up and nothing
    has moved since. transforms: of G68, G51 and G51.1, by name.
    """

    position: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    known: list[bool] = field(default_factory=lambda: [False, False, False])
    machine: list[float] = field(default_factory=lambda: [math.nan] * 3)
    shift: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    stored_shift: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    origins: dict[int, list[float]] = field(default_factory=dict)
    motion: int = 10
    straight: int = 10
    plane: int = 17
    absolute: bool = True
    unit_mm: float = 1.0
    feed_mode: int = 94
    feed_mm_min: float = math.nan
    feed_word: float = math.nan
    rpm: float = 0.0
    spindle: int = 0
    coolant: Coolant = Coolant.OFF
    tool: int = 0
    tool_waiting: int = 0
    length_offset: int = 0
    side: int = 0
    radius_offset: int = 0
    work_offset: int = 1
    cycle_return: int = 98
    path: int = 640
    cycle: Cycle | None = None
    tool_change_up: bool = False
    rigid_tapping: bool = False
    local_shift: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    absolute_centres: bool = False
    transforms: dict[str, Transform] = field(default_factory=dict)
    stated: set[str] = field(default_factory=set)

    def modes(self) -> Modes:
        """A frozen copy for the log."""
        return Modes(
            motion=code_name(self.motion),
            plane=self.plane,
            absolute=self.absolute,
            unit="mm" if self.unit_mm == 1.0 else "inch",
            feed_mode=self.feed_mode,
            feed_mm_min=self.feed_mm_min,
            rpm=self.rpm,
            spindle=self.spindle,
            coolant=self.coolant,
            tool=self.tool,
            tool_waiting=self.tool_waiting,
            length_offset=self.length_offset,
            compensation=f"G{self.side or 40}",
            radius_offset=self.radius_offset,
            work_offset=offset_name(self.work_offset),
            cycle_return=self.cycle_return,
            path=self.path // 10,
        )

    def signature(self) -> tuple[Any, ...]:
        """Everything that `modes` shows, cheap to compare."""
        return (
            self.motion, self.plane, self.absolute, self.unit_mm, self.feed_mode, self.feed_mm_min, self.rpm,
            self.spindle, self.coolant, self.tool, self.tool_waiting, self.length_offset, self.side,
            self.radius_offset, self.work_offset, self.cycle_return, self.path,
        )  # fmt: skip


FIRST_EXTENDED = 9
"""Work offsets above this are those of G54.1 P1 and so on."""

MOST_EXTENDED = 240
"""G54.1 P1 to P240, so that all numbers fit into a byte."""


def code_name(code: int) -> str:
    """A G code times ten as the trade writes it."""
    return f"G{code // 10}" if code % 10 == 0 else f"G{code / 10:.1f}"


def offset_name(number: int) -> str:
    """1 is G54 … 6 is G59, 7 is G59.1 … 9 is G59.3, 10 is G54.1 P1 …."""
    if number > FIRST_EXTENDED:
        return f"G54.1 P{number - FIRST_EXTENDED}"
    return f"G{53 + number}" if number <= 6 else f"G59.{number - 6}"


def offset_number(name: str) -> int:
    """The reverse of `offset_name`."""
    if "P" in name:
        return FIRST_EXTENDED + int(name.partition("P")[2])
    return int(name[1:3]) - 53 if "." not in name else int(name[-1]) + 6


ROW: np.dtype[np.void] = np.dtype(
    [
        ("kind", "u1"), ("line", "i4"), ("start", "f8", 3), ("end", "f8", 3), ("start_known", "?", 3),
        ("end_known", "?", 3), ("centre", "f8", 3), ("plane", "u1"), ("turn_deg", "f8"), ("feed_mm_min", "f8"),
        ("dwell_s", "f8"), ("rpm", "f8"), ("spindle", "i1"), ("coolant", "u1"), ("tool", "i4"),
        ("length_offset", "i4"), ("radius_offset", "i4"), ("radius_side", "i1"), ("work_offset", "u1"), ("cycle", "u1"),
    ]
)  # fmt: skip
"""One motion, packed."""

NAMES = ROW.names or ()


Columns = dict[str, NDArray[Any]]


class Rows:
    """Collects motions: tuples in a short buffer, turned into columns, so that a million stay small."""

    _BUFFER = 4096

    def __init__(self) -> None:
        self._buffer: list[tuple[Any, ...]] = []
        self._blocks: list[Columns] = []
        self._count = 0

    def __len__(self) -> int:
        return self._count + len(self._buffer)

    def add(self, row: tuple[Any, ...]) -> None:
        """One motion, in the order of ROW."""
        self._buffer.append(row)
        if len(self._buffer) >= self._BUFFER:
            self._pack()

    def add_columns(self, columns: Columns) -> None:
        """Many motions at once, a column for each name of ROW."""
        self._pack()
        self._blocks.append(columns)
        self._count += len(columns["kind"])

    def _pack(self) -> None:
        if self._buffer:
            packed = np.array(self._buffer, dtype=ROW)
            self._blocks.append({name: packed[name] for name in NAMES})
            self._count += len(self._buffer)
            self._buffer = []

    def finish(self) -> tuple[Motions, NDArray[np.bool_]]:
        """The motions as columns, and end_known (n, 3). Columns are joined one by one, and each freed when it is."""
        self._pack()
        blocks = self._blocks or [{name: np.empty(0, dtype=ROW)[name] for name in NAMES}]
        joined = {}
        for name in NAMES:
            parts = [block.pop(name) for block in blocks]
            joined[name] = np.concatenate(parts) if len(parts) > 1 else np.ascontiguousarray(parts[0])
            joined[name].flags.writeable = False
        end_known = joined.pop("end_known")
        return Motions(**joined), end_known
