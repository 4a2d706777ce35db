"""What is in force at a line: kept as stretches of lines, so that a million plain lines cost a handful of entries."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from shopflow.core.types import Coolant, MotionKind, Motions


@dataclass(frozen=True, slots=True)
class Modes:
    """Everything modal. G codes as the trade writes them, feed in mm/min (NaN: none given), rpm as commanded.

    feed_mode: 93 inverse time, 94 a minute, 95 a revolution. work_offset: "G54" …. compensation: "G40", "G41", "G42".
    """

    motion: str = ""
    plane: int = 17
    absolute: bool = True
    unit: str = "mm"
    feed_mode: int = 94
    feed_mm_min: float = float("nan")
    rpm: float = 0.0
    spindle: int = 0
    coolant: Coolant = Coolant.OFF
    tool: int = 0
    tool_waiting: int = 0
    length_offset: int = 0
    compensation: str = "G40"
    radius_offset: int = 0
    work_offset: str = "G54"
    cycle_return: int = 98
    path: int = 64


class HasModes(Protocol):
    """What the log asks of the reader's state."""

    def signature(self) -> tuple[object, ...]: ...

    def modes(self) -> Modes: ...


class ModeLog:
    """Stretches of lines in the order in which they ran, each with what was in force at its end."""

    def __init__(self) -> None:
        self._first: list[int] = []
        self._last: list[int] = []
        self._modes: list[Modes] = []
        self._plain: list[bool] = []
        self._signature: tuple[object, ...] = ()
        self._rises = True

    def note(self, line: int, state: HasModes) -> None:
        """Note what is in force after a line (from 1) has run."""
        signature = state.signature()
        if signature == self._signature and line == self._last[-1] + 1:
            self._last[-1] = line
            return
        self._signature = signature
        self._add(line, line, state.modes(), plain=False)

    def add_plain(self, first: int, last: int, modes: Modes) -> None:
        """Note that lines first to last (from 1) ran on the fast path, which changes motion and feed alone.

        modes: in force before the first of them.
        """
        self._signature = ()
        self._add(first, last, modes, plain=True)

    def _add(self, first: int, last: int, modes: Modes, *, plain: bool) -> None:
        self._rises = self._rises and (not self._last or first > self._last[-1])
        self._first.append(first)
        self._last.append(last)
        self._modes.append(modes)
        self._plain.append(plain)

    def at(self, line: int, motions: Motions) -> Modes:
        """The modes after a line; a line that did not run has those of the nearest stretch before it."""
        index = self._stretch(line)
        if index < 0:
            return Modes()
        if not self._plain[index]:
            return self._modes[index]
        return _with_motion_before(self._modes[index], self._first[index], line, motions, rises=self._rises)

    def tool_at(self, line: int) -> int:
        """The tool after a line, as in `at`: no stretch changes it within."""
        index = self._stretch(line)
        return self._modes[index].tool if index >= 0 else 0

    def _stretch(self, line: int) -> int:
        if self._rises:
            return bisect_right(self._first, line) - 1
        for index, (first, last) in enumerate(zip(self._first, self._last, strict=True)):
            if first <= line <= last:
                return index
        before = [index for index, first in enumerate(self._first) if first <= line]
        return max(before, key=lambda index: self._first[index]) if before else -1


def _with_motion_before(modes: Modes, first: int, line: int, motions: Motions, *, rises: bool) -> Modes:
    """Motion and feed within a stretch of the fast path are those of its rows; lines rise within a stretch."""
    begin, end = np.searchsorted(motions.line, (first, line + 1)) if rises else _rows(motions, first, line)
    if begin == end:
        return modes
    feed = modes.feed_mm_min
    for row in range(int(end) - 1, int(begin) - 1, -1):
        if motions.kind[row] == MotionKind.FEED:
            feed = float(motions.feed_mm_min[row])
            break
    return replace(modes, motion="G0" if motions.kind[end - 1] == MotionKind.RAPID else "G1", feed_mm_min=feed)


def _rows(motions: Motions, first: int, line: int) -> tuple[int, int]:
    """The first run of rows that come from these lines."""
    inside = (motions.line >= first) & (motions.line <= line)
    begin = int(np.argmax(inside)) if inside.any() else 0
    outside = np.flatnonzero(~inside[begin:])
    return begin, begin + (int(outside[0]) if len(outside) else len(inside) - begin) if inside.any() else begin
