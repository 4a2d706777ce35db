"""What a read program is: its motions, and everything about them that a person would want to be told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc.extent import Extent, arc_extent, lengths
from shopflow.core.nc.modes import ModeLog, Modes
from shopflow.core.nc.text import Source
from shopflow.core.types import ControlProfile, MotionKind, Motions, Tool, Vector


@dataclass(frozen=True)
class Limits:
    """Bounds that end an endless or oversized program with a clear entry instead of an endless reading.

    max_steps: blocks executed, repeats counted. max_nesting: calls within calls. max_unread: entries listed singly.
    """

    max_bytes: int = 128 * 1024 * 1024
    max_steps: int = 5_000_000
    max_motions: int = 5_000_000
    max_nesting: int = 10
    max_unread: int = 5_000


@dataclass(frozen=True)
class Unread:
    """Something in the file that was not interpreted, or had to be assumed: line counted from 1, its text, and why."""

    line: int
    text: str
    why: str
    code: str = "unread-word"


@dataclass(frozen=True)
class Stop:
    """A place where the program waits for a person.

    kind: "M00", "M01" … as the trade writes them. text: the message beside or just before it. position: mm, in the
    active work offset's coordinates. retracted: the tool had moved up out of everything cut so far, or is home.
    height_mm: how far the tip stands above the highest place fed through so far; inf at home, NaN when not known.
    """

    line: int
    kind: str
    text: str
    spindle_on: bool
    coolant_on: bool
    position: Vector
    retracted: bool
    height_mm: float
    tool: int
    after_motion: int


@dataclass(frozen=True)
class Program:
    """One program as read under one control profile. Arrays are as `Motions` says.

    end_known: (n, 3) bool, False where the end of a motion is only assumed. program_ends: line of the M2 or M30, None
    without one. unread: must-fix, each with its line. assumptions: what had to be taken for granted, once each.
    units: "mm", "inch", "mixed" or "not stated". stated: which of "units", "distance", "plane", "offset", "feed mode",
    "motion" the program says itself. number: as in "O1234", "" without one. parameters: numbers of the variables used.
    length_offsets_set: H numbers that the program itself gave a value. complete: False when a limit ended the reading.
    tools_known: the tool table that it was read with.
    """

    name: str
    source: Source
    control: ControlProfile
    motions: Motions
    end_known: NDArray[np.bool_]
    units: str
    stated: frozenset[str]
    tools: tuple[int, ...]
    work_offsets: tuple[str, ...]
    stops: tuple[Stop, ...]
    program_ends: int | None
    unread: tuple[Unread, ...]
    assumptions: tuple[Unread, ...]
    number: str
    parameters: tuple[int, ...]
    length_offsets_set: frozenset[int]
    lines_run: NDArray[np.bool_]
    complete: bool
    tools_known: Mapping[int, Tool] = field(repr=False)
    _modes: ModeLog = field(repr=False)

    @property
    def lines(self) -> int:
        """How many lines the file has."""
        return len(self.source)

    def text(self, line: int) -> str:
        """The text of a line, counted from 1, without its line end."""
        return self.source.line(line - 1)

    def modes_at(self, line: int) -> Modes:
        """Everything in force once this line has run (the first time, where it runs more than once)."""
        return self._modes.at(line, self.motions)

    def tool_at(self, line: int) -> int:
        """The tool in the spindle once this line has run; quick, for a look at every line."""
        return self._modes.tool_at(line)

    @cached_property
    def extent(self) -> Extent | None:
        """Smallest box around all places known in a work offset's coordinates, arcs included; None without any."""
        return arc_extent(self.motions, self.end_known)

    @cached_property
    def cut_length_mm(self) -> float:
        """Length of all feeds and arcs; an axis whose start is not known counts nothing."""
        return float(lengths(self.motions)[self.motions.kind != MotionKind.RAPID].sum())

    @cached_property
    def rapid_length_mm(self) -> float:
        """Length of all rapids; an axis whose start is not known counts nothing."""
        return float(lengths(self.motions)[self.motions.kind == MotionKind.RAPID].sum())

    def count(self, kind: MotionKind) -> int:
        """How many motions are of this kind."""
        return int((self.motions.kind == kind).sum())
