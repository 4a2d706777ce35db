"""What changed between two revisions by meaning, as plain values that are kept with the work."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shopflow.core import nc
from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.nc import ChangeKind
from shopflow.core.nc.extent import Extent
from shopflow.core.types import ControlProfile, Machine, Tool

Progress = Callable[[float, str], None]

VERSION = "5"
MOST_CHANGES = 300
"""Shown line by line; the rest is counted."""


@dataclass(frozen=True)
class ReadAs:
    """How both programs are read and timed. machine: None while the plan names none; then a typical one is timed."""

    control: ControlProfile
    machine: Machine | None = None
    tools: tuple[Tool, ...] = ()

    def read(self, data: bytes) -> nc.Program:
        return nc.read(data, control=self.control, tools={tool.number: tool for tool in self.tools})

    def seconds(self, program: nc.Program) -> float:
        return cycle_time(program.motions, self.machine or TYPICAL_MACHINE).total_s


def compare(
    before: bytes, after: bytes, read_as: ReadAs, progress: Progress = lambda percent, step: None
) -> dict[str, Any]:
    """`changes` (kind, before and after as pairs of line and text), `counts` by kind, what it does to the motions.

    `slower`, `faster`: seconds on `machine`, "" where a typical one was timed.
    """
    progress(5, "Reading the earlier revision")
    old = read_as.read(before)
    progress(30, "Reading the later revision")
    new = read_as.read(after)
    progress(60, "Comparing")
    found = nc.difference(old, new)
    shown = found.meaningful[:MOST_CHANGES]
    seconds = round(read_as.seconds(new) - read_as.seconds(old), 1)
    return {
        "same_motions": found.same_motions,
        "changes": [_change(change, old, new) for change in shown],
        "more": len(found.meaningful) - len(shown),
        "looks": sum(change.kind is ChangeKind.LOOKS for change in found.changes),
        "counts": dict(Counter(change.kind.value for change in found.meaningful)),
        "cut_mm": round(found.cut_length_change_mm, 3),
        "motions": [len(old.motions), len(new.motions)],
        "machine": read_as.machine.name if read_as.machine else "",
        "slower": max(0.0, seconds),
        "faster": max(0.0, -seconds),
        "reach": reach(found.extent_before, found.extent_after),
        "removed_feeds": list(found.removed_feeds)[:20],
        "added_feeds": list(found.added_feeds)[:20],
        "lowest_z": [_lowest(found.extent_before), _lowest(found.extent_after)],
    }


def _change(change: nc.Change, old: nc.Program, new: nc.Program) -> dict[str, Any]:
    return {
        "kind": change.kind.value,
        "before": [[line, old.text(line)] for line in change.before],
        "after": [[line, new.text(line)] for line in change.after],
    }


def reach(before: Extent | None, after: Extent | None) -> list[dict[str, Any]]:
    """The axes whose reach changed, each with its lowest and highest place in mm, before and after."""
    if before is None or after is None:
        return []
    spans = [list(zip(extent.low, extent.high, strict=True)) for extent in (before, after)]
    changed = []
    for axis, was, now in zip("XYZ", *spans, strict=True):
        stated = all(math.isfinite(value) for value in (*was, *now))
        if stated and not all(math.isclose(*pair, abs_tol=1e-6) for pair in zip(was, now, strict=True)):
            changed.append({"axis": axis, "before": was, "after": now})
    return changed


def _lowest(extent: Extent | None) -> float | None:
    low = extent.low[2] if extent else float("nan")
    return None if low != low else low
