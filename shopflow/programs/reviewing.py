"""One review from beginning to end: read, time, draw, judge. Computes from its inputs alone and writes no rows."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Any

from shopflow.core import nc
from shopflow.core import review as rules
from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.review import Finding
from shopflow.programs import drawing, editing, typed
from shopflow.programs.inputs import Inputs, from_plain
from shopflow.programs.summary import motions_sha256, summary
from shopflow.records import cache
from shopflow.records.canonical import decimal_text
from shopflow.records.models import Work

VERSION = f"reader 7, rules {rules.VERSION}"
"""Raise the first number when the reader, the timing or this file would give another result for the same inputs."""

MOST_FINDINGS = 2000
"""A file that is no program gives one finding a line; the rest is said in one more finding."""

_PLACE = ("tool", "setup", "first_line", "last_line")

Progress = Callable[[float, str], None]


def review(inputs: Inputs, data: bytes, *, drawing_key: str, progress: Progress) -> dict[str, Any]:
    """The result that is kept: `findings` (queries.Found), `reading` (summary.summary), `edits`, `motions_sha256`.

    Raises Unreadable for what is no program text.
    """
    progress(5, "Reading the program")
    program = read(inputs, data)
    progress(55, "Reckoning the time")
    seconds = cycle_time(program.motions, inputs.machine or TYPICAL_MACHINE).row_s
    progress(70, "Looking at every motion")
    found = rules.run(
        program,
        machine=inputs.machine,
        tools={tool.number: tool for tool in inputs.tools},
        house_rules=inputs.house_rules,
        plan=inputs.plan,
        material=inputs.material,
        own_data=inputs.own_data,
        seconds=seconds,
        on_hand=inputs.on_hand,
    )
    progress(80, "Drawing the tool path")
    _draw(program, drawing_key)
    reading = summary(program, seconds, inputs.setups_by_offset)
    kept = kept_findings(found, reading["sections"])
    progress(85, "Trying what could be mended")
    return {
        "findings": kept,
        "reading": reading,
        "edits": editing.proposals(_given(program, inputs, found), kept),
        "motions_sha256": motions_sha256(program.motions),
    }


def _given(program: nc.Program, inputs: Inputs, found: Iterable[Finding]) -> editing.Given:
    return editing.Given(
        program,
        inputs.machine,
        inputs.tools,
        lines={finding.key: finding.lines for finding in found},
        touches=inputs.plan.person_touches,
        shift=inputs.length_offset_shift,
    )


def draw_again(work: Work, data: bytes, offset: int) -> bytes | None:
    """The drawing of one work offset, where the cache was emptied since the review; None where nothing moves in it."""
    _draw(read(from_plain(work.data), data), work.key)
    return cache.read(drawing.key(work.key, offset))


def read(inputs: Inputs, data: bytes) -> nc.Program:
    """The program as the machine of the plan reads it."""
    return nc.read(data, control=inputs.control, tools={tool.number: tool for tool in inputs.tools})


def _draw(program: nc.Program, drawing_key: str) -> None:
    for offset in drawing.offsets_drawn(program.motions):
        cache.write(drawing.key(drawing_key, offset), drawing.drawing(program.motions, offset=offset))


def kept_findings(found: Iterable[Finding], sections: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Findings as plain values; the same finding twice gets its number at the end of its key."""
    seen: dict[str, int] = {}
    rows = []
    for finding in found:
        times = seen[finding.key] = seen.get(finding.key, 0) + 1
        rows.append(_kept(finding, sections, "" if times == 1 else f".{times}"))
    return rows if len(rows) <= MOST_FINDINGS else [*rows[:MOST_FINDINGS], _rest(rows[MOST_FINDINGS:])]


def _kept(finding: Finding, sections: list[dict[str, Any]], suffix: str) -> dict[str, Any]:
    first, last = (min(finding.lines), max(finding.lines)) if finding.lines else (0, 0)
    return {
        "key": finding.key + suffix,
        "code": finding.code,
        "weight": finding.weight.value,
        "first_line": first,
        "last_line": last,
        "tool": finding.tool,
        "setup": _setup_at(first, sections),
        "measured": _text(finding.measured),
        "limit": _text(finding.limit),
        "unit": finding.unit,
        "message": finding.message,
        "basis": finding.basis,
    }


def _rest(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Heaviest first is how the rows come, so the first of the rest says how much they weigh."""
    message = f"{len(rows):,} more findings of this program are not listed. Mend those above first, or check the file."
    nothing = dict.fromkeys(("measured", "limit", "unit", "basis"), "") | dict.fromkeys(_PLACE, 0)
    return rows[0] | nothing | {"key": "rest", "code": "more-findings", "message": message}


def _setup_at(line: int, sections: list[dict[str, Any]]) -> int:
    """The setup of the plan in which a line runs; 0 where it is about the whole or not known."""
    return next((s["setup"] for s in sections if s["first_line"] <= line <= s["last_line"]), 0)


def _text(value: float | None) -> str:
    """To four places, which is finer than anything measured here: a text that people and programs read alike."""
    if value is None or not math.isfinite(value):
        return ""
    return decimal_text(round(typed.number(value), 4))
