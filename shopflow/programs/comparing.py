"""What changed between two revisions by meaning, as plain values that are kept with the work."""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

from shopflow.core import nc
from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.nc import ChangeKind
from shopflow.core.nc.extent import Extent
from shopflow.core.types import ControlProfile
from shopflow.records.work import Progress

VERSION = "2"
MOST_CHANGES = 300
"""Shown line by line; the rest is counted."""


def compare(before: bytes, after: bytes, control: ControlProfile, progress: Progress) -> dict[str, Any]:
    """`changes` (kind, before and after as pairs of line and text), `counts` by kind, what it does to the motions."""
    progress(5, "Reading the earlier revision")
    old = nc.read(before, control=control)
    progress(30, "Reading the later revision")
    new = nc.read(after, control=control)
    progress(60, "Comparing")
    found = nc.difference(old, new)
    shown = found.meaningful[:MOST_CHANGES]
    seconds = round(_seconds(new) - _seconds(old), 1)
    return {
        "same_motions": found.same_motions,
        "changes": [_change(change, old, new) for change in shown],
        "more": len(found.meaningful) - len(shown),
        "looks": sum(change.kind is ChangeKind.LOOKS for change in found.changes),
        "counts": dict(Counter(change.kind.value for change in found.meaningful)),
        "cut_mm": found.cut_length_change_mm,
        "slower": max(0.0, seconds),
        "faster": max(0.0, -seconds),
        "reach": _reach(found.extent_before, found.extent_after),
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


def _seconds(program: nc.Program) -> float:
    return cycle_time(program.motions, TYPICAL_MACHINE).total_s


def _reach(before: Extent | None, after: Extent | None) -> list[dict[str, Any]]:
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
