"""What a read program is in a few hundred numbers: the summary that is kept with a review and shown on its page."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc import Program, offset_name, programs_in, restart
from shopflow.core.nc.extent import lengths
from shopflow.core.review.life import use_of
from shopflow.core.types import MotionKind, Motions

MOST_SECTIONS = 300
"""A stretch of one tool in one work offset each; what comes after is one last section."""

Seconds = NDArray[np.float64]


def summary(program: Program, seconds: Seconds, setups: Mapping[int, int]) -> dict[str, Any]:
    """seconds: (n,) for each motion. setups: work offset (1 is G54) to the setup that has it in the plan.

    Lengths in mm, times in s, places in the work offset's coordinates.
    """
    motions = program.motions
    extent = program.extent
    return {
        "lines": program.lines,
        "number": program.number,
        "units": program.units,
        "motions": {kind.name.lower(): program.count(kind) for kind in MotionKind},
        "tools": list(program.tools),
        "work_offsets": list(program.work_offsets),
        "stops": [_stop(stop) for stop in program.stops],
        "restarts": [_restart(place) for place in restart.restarts(program)[:MOST_SECTIONS]],
        "parts": part_rows(program, seconds),
        "programs": _programs(program),
        "program_ends": program.program_ends,
        "extent": {"low": _finite(extent.low), "high": _finite(extent.high)} if extent else None,
        "cut_mm": program.cut_length_mm,
        "rapid_mm": program.rapid_length_mm,
        "cycle_s": float(seconds.sum()),
        "sections": _sections(motions, seconds, setups),
        "unread": len(program.unread),
        "complete": program.complete,
        "assumed": [{"line": item.line, "text": item.text, "why": item.why} for item in program.assumptions],
        "lines_not_run": int((~program.lines_run).sum()),
    }


def motions_sha256(motions: Motions) -> str:
    """One hash of everything the machine is told, line numbers apart: equal exactly when two readings move alike."""
    hashed = hashlib.sha256()
    for name, column in vars(motions).items():
        if name != "line":
            hashed.update(np.ascontiguousarray(column).tobytes())
    return hashed.hexdigest()


def _stop(stop: Any) -> dict[str, Any]:
    return {
        "line": stop.line,
        "kind": stop.kind,
        "text": stop.text,
        "spindle_on": stop.spindle_on,
        "coolant_on": stop.coolant_on,
        "retracted": stop.retracted,
        "height_mm": _number(stop.height_mm),
        "tool": stop.tool,
    }


def _restart(place: restart.Restart) -> dict[str, Any]:
    """must_set: what the lines from there to the first cut do not set themselves, as names and words."""
    return {
        "line": place.line,
        "tool": place.tool,
        "first_cut": place.first_cut,
        "must_set": [list(item) for item in place.must_set],
    }


def part_rows(program: Program, seconds: Seconds, also_after: frozenset[int] = frozenset()) -> list[dict[str, Any]]:
    """The program cut at its stops, its end and the lines that a person names (restart.parts), with what each takes.

    ends_with: how the part ends, as in "M00 turn the part over"; "" where a person put the cut.
    """
    ends = {stop.line: f"{stop.kind} {stop.text}".strip() for stop in program.stops if stop.kind != "M01"}
    return [
        {
            "first": part.first,
            "last": part.last,
            "tools": list(part.tools),
            "work_offsets": [offset_name(offset) for offset in part.work_offsets],
            "seconds": float(seconds[slice(*part.rows)].sum()),
            "motions": part.rows[1] - part.rows[0],
            "ends_with": ends.get(part.last, "" if part.last in also_after else "end"),
        }
        for part in restart.parts(program, also_after=also_after)[:MOST_SECTIONS]
    ]


def _programs(program: Program) -> list[dict[str, Any]]:
    """The programs in the file where there are several (nc.programs_in); one alone is not told."""
    listed = programs_in(program.source, program.control)
    return [vars(one) for one in listed[:MOST_SECTIONS]] if len(listed) > 1 else []


def _sections(motions: Motions, seconds: Seconds, setups: Mapping[int, int]) -> list[dict[str, Any]]:
    if not len(motions):
        return []
    offset = _offset_in_force(motions)
    changes = (np.diff(motions.tool) != 0) | (np.diff(offset) != 0)
    starts = np.concatenate(([0], np.flatnonzero(changes) + 1))[:MOST_SECTIONS]
    ends = np.concatenate((starts[1:], [len(motions)]))
    length = lengths(motions)
    sections = []
    for first, after in zip(starts, ends, strict=True):
        rows = slice(int(first), int(after))
        code = int(offset[first])
        sections.append(
            {"tool": int(motions.tool[first]), "offset": code, "setup": setups.get(code, 0)}
            | _figures(motions, rows, length, seconds)
        )
    return sections


def _offset_in_force(motions: Motions) -> NDArray[np.uint8]:
    """(n,) the work offset of each motion; one in machine coordinates belongs to the offset before it."""
    at = np.where(motions.work_offset != 0, np.arange(len(motions)), 0)
    filled: NDArray[np.uint8] = motions.work_offset[np.maximum.accumulate(at)]
    return filled


def _figures(motions: Motions, rows: slice, length: NDArray[np.float64], seconds: Seconds) -> dict[str, Any]:
    kind = motions.kind[rows]
    cuts = (kind == MotionKind.FEED) | (kind == MotionKind.ARC)
    in_work = motions.work_offset[rows] != 0
    lowest = motions.end[rows, 2][cuts & in_work]
    use = use_of(motions, seconds, rows)
    return {
        "first_line": int(motions.line[rows].min()),
        "last_line": int(motions.line[rows].max()),
        "motions": int(len(kind)),
        "seconds": float(seconds[rows].sum()),
        "feeding_min": use.minutes,
        "holes": use.holes,
        "cut_mm": float(length[rows][cuts].sum()),
        "lowest_z": _number(float(lowest.min())) if len(lowest) else None,
        "rpm": _range(motions.rpm[rows][cuts]),
        "feed": _range(motions.feed_mm_min[rows][cuts]),
    }


def _range(values: NDArray[np.float64]) -> list[float] | None:
    known = values[np.isfinite(values)]
    return [float(known.min()), float(known.max())] if len(known) else None


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _finite(values: tuple[float, float, float]) -> list[float | None]:
    return [_number(value) for value in values]
