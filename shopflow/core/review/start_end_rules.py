"""Findings about how a program and each of its tools begin and end."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from shopflow.core.nc.extent import clear_heights
from shopflow.core.nc.restart import codes_of
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of, sensible
from shopflow.core.types import MotionKind, ToolShape

_OURS = "common practice, no source"
_FEED_MODES, _ROTATIONS = re.compile(rb"G9[35](?!\d)", re.IGNORECASE), re.compile(rb"G68(?!\d)", re.IGNORECASE)
_COMMENT = re.compile(r"\([^)]*\)|;.*")


def _changes(subject: Subject) -> list[int]:
    """Rows that begin with another tool than the row before; the first tool of a program is none."""
    tool = subject.program.motions.tool
    return [int(row) + 1 for row in np.flatnonzero((tool[1:] != tool[:-1]) & (tool[:-1] != 0))]


def modes_not_given(subject: Subject) -> Iterator[Finding]:
    """A program that was broken off halfway leaves its modes in force, and the next one begins in them."""
    asked = int(subject.house_rules.limit("head_modes"))
    motions = subject.program.motions
    moves = np.flatnonzero(motions.work_offset != 0)
    if not asked or not len(moves):
        return
    first = int(motions.line[moves[0]])
    missing = _not_given(subject, first)
    if missing:
        message = (
            f"Up to its first move (line {first}) the program does not give {', '.join(missing)}: "
            "what another program left in force, or this one broken off halfway, still holds there."
        )
        weight = Weight.DECIDE if asked > 1 else Weight.NOTE
        basis = subject.house_rules.basis("head_modes")
        yield Finding("modes-not-given", weight, (first,), message, basis=basis)


def _not_given(subject: Subject, first: int) -> list[str]:
    """Codes that cancel what may be in force and that no line up to the first move gives.

    Units, distance and work offset are asked for where they are not given at all (`reading_rules`). A plane, feed mode
    or rotation is asked for where this program uses another one itself.
    """
    program, motions = subject.program, subject.program.motions
    lines = [line for line in range(1, first + 1) if program.lines_run[line - 1]]
    given: set[str] = set().union(*(codes_of(program, line)[0] for line in lines))
    wanted = {
        "compensation": ("G40", True),
        "motion": ("G80", True),
        "plane": ("G17", bool((motions.plane != 17).any())),
        "feed mode": ("G94", _FEED_MODES.search(program.source.data) is not None),
        "rotation": ("G69", _ROTATIONS.search(program.source.data) is not None),
    }
    return [code for group, (code, is_asked) in wanted.items() if is_asked and group not in given]


def ends_low(subject: Subject) -> Iterator[Finding]:
    """After the last cut the tool stays down in the part: the operator finds it there, or the door's move hits it."""
    program = subject.program
    if program.program_ends is None or not subject.program.motions.feeds.any():
        return
    motions = program.motions
    height = float(clear_heights(motions, program.end_known)[-1])
    moved = np.flatnonzero(motions.kind != MotionKind.DWELL)
    in_cut = height == 0.0 and motions.kind[moved[-1]] != MotionKind.RAPID
    if height < 0.0 or in_cut:
        message = "The program ends with the tool not up out of what it cut."
        yield Finding("ends-low", Weight.MUST_FIX, (program.program_ends,), message, basis=_OURS,
                      measured=sensible(height), limit=0.0, unit="mm")  # fmt: skip


def ends_compensated(subject: Subject) -> Iterator[Finding]:
    """G41 or G42 still in force at a tool change or at the end: the next move goes to a wrong place."""
    program, motions = subject.program, subject.program.motions
    places = [row - 1 for row in _changes(subject) if motions.radius_side[row]]
    ends = program.program_ends
    if len(motions) and ends is not None and ends > 1 and program.modes_at(ends - 1).compensation != "G40":
        places.append(len(motions) - 1)
    for row in places:
        if motions.radius_side[row]:
            tool, line = int(motions.tool[row]), int(motions.line[row])
            message = (
                f"T{tool} leaves with cutter compensation (G{motions.radius_side[row]}) in force; cancel it (G40)."
            )
            yield Finding("compensation-left-on", Weight.MUST_FIX, (line,), message, tool=tool, basis=_OURS)


def changes_low(subject: Subject) -> Iterator[Finding]:
    """M6 with the tool still in a pocket, on a control whose tool change does not retract by itself."""
    program = subject.program
    if program.control.tool_change_retracts:
        return
    heights = clear_heights(program.motions, program.end_known)
    for row in _changes(subject):
        if heights[row - 1] <= 0.0:
            tool, line = int(program.motions.tool[row - 1]), int(program.motions.line[row - 1])
            message = f"T{tool} is changed no higher than what it cut, and this control does not retract by itself."
            yield Finding(
                "changes-low", Weight.MUST_FIX, (line,), message, tool=tool, measured=sensible(float(heights[row - 1])),
                limit=0.0, unit="mm", basis=f"control profile {program.control.name}: a tool change does not retract",
            )  # fmt: skip


def offset_changes_low(subject: Subject) -> Iterator[Finding]:
    """From G54 to G55 with the tool down: on the way it meets whatever stands between the two."""
    motions = subject.program.motions
    heights = clear_heights(motions, subject.program.end_known)
    offset = motions.work_offset
    for row in (np.flatnonzero((offset[1:] != offset[:-1]) & (offset[1:] != 0) & (offset[:-1] != 0)) + 1).tolist():
        if heights[row - 1] <= 0.0:
            tool = int(motions.tool[row])
            message = "The work offset changes while the tool stands no higher than what it cut."
            yield Finding(
                "offset-changes-low", Weight.MUST_FIX, (int(motions.line[row]),), message, tool=tool,
                measured=sensible(float(heights[row - 1])), limit=0.0, unit="mm", basis=_OURS,
            )  # fmt: skip


def turns_backwards(subject: Subject) -> Iterator[Finding]:
    """M4 for a right-hand tool: it rubs and burns."""
    motions = subject.program.motions
    tapping = np.isin(motions.cycle, (74, 84, 88, 87))
    back = subject.program.motions.feeds & (motions.spindle < 0) & ~tapping
    for tool in dict.fromkeys(motions.tool[back].tolist()):
        known = subject.tool(tool)
        if known is not None and known.shape in (ToolShape.TAP, ToolShape.PROBE, ToolShape.THREAD_MILL):
            continue
        rows = np.flatnonzero(back & (motions.tool == tool))
        message = f"T{tool} cuts with the spindle turning backwards (M4); only a left-hand tool is meant for that."
        yield Finding(
            "turns-backwards", Weight.DECIDE, lines_of(subject.program, rows), message, tool=tool, basis=_OURS
        )


def carried_over(subject: Subject) -> Iterator[Finding]:
    """A new tool that gives no S of its own turns with the speed of the one before; so with F."""
    motions = subject.program.motions
    feeds = subject.program.motions.feeds
    for row in _changes(subject):
        later = np.flatnonzero(feeds[row:] & (motions.tool[row:] == motions.tool[row]))
        if not len(later) or not feeds[:row].any():
            continue
        first, tool = row + int(later[0]), int(motions.tool[row])
        known = subject.tool(tool)
        if known is not None and known.shape is ToolShape.PROBE:
            continue
        text = _words(subject, int(motions.line[row - 1]) + 1, int(motions.line[first]))
        lacks = [word for word, letter in (("speed (S)", "S"), ("feed (F)", "F")) if not _has(text, letter)]
        if lacks and int(motions.line[row - 1]) < int(motions.line[first]):
            message = f"T{tool} gives no {' and no '.join(lacks)} of its own and takes over what the tool before had."
            lines = (int(motions.line[first]),)
            yield Finding("carried-over", Weight.DECIDE, lines, message, tool=tool, basis=_OURS)


def _words(subject: Subject, first: int, last: int) -> str:
    lines = range(first, min(last, first + 200) + 1)
    return "\n".join(_COMMENT.sub("", subject.program.text(line)).upper() for line in lines)


def _has(text: str, letter: str) -> bool:
    return re.search(rf"(?<![A-Z]){letter}\s*[\d.#\[]", text) is not None


RULES = (modes_not_given, ends_low, ends_compensated, changes_low, offset_changes_low, turns_backwards, carried_over)
