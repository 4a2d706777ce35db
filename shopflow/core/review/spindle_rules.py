"""Findings about spindle and feed."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.review.finding import Finding, Subject, Weight, by_tool, lines_of, stretches
from shopflow.core.types import ToolShape


def spindle_stopped(subject: Subject) -> Iterator[Finding]:
    """A feed with the spindle stopped, or turning at zero. A probe does not turn."""
    motions = subject.program.motions
    stopped = (motions.spindle == 0) | (motions.rpm <= 0.0)
    for rows in stretches(np.flatnonzero(subject.program.motions.feeds & stopped)):
        tool = int(motions.tool[rows[0]])
        known = subject.tool(tool)
        if known is not None and known.shape is ToolShape.PROBE:
            continue
        message = f"The tool feeds with the spindle stopped from line {motions.line[rows[0]]} on."
        lines = lines_of(subject.program, rows)
        yield Finding("spindle-stopped", Weight.MUST_FIX, lines, message, tool=tool, basis="common practice, no source")


def too_fast_for_machine(subject: Subject) -> Iterator[Finding]:
    if subject.machine is None:
        return
    motions, limit = subject.program.motions, subject.machine.max_rpm
    for tool, rows in by_tool(subject.program, np.flatnonzero((motions.spindle != 0) & (motions.rpm > limit))):
        rpm = float(motions.rpm[rows].max())
        message = f"S{rpm:.0f} is more than the machine turns ({limit:.0f} rpm)."
        yield Finding(
            "rpm-over-machine", Weight.MUST_FIX, lines_of(subject.program, rows), message,
            tool=tool, measured=rpm, limit=limit, unit="rpm", basis=f"machine {subject.machine.name}",
        )  # fmt: skip


def too_slow_for_machine(subject: Subject) -> Iterator[Finding]:
    if subject.machine is None:
        return
    motions, limit = subject.program.motions, subject.machine.min_rpm
    slow = subject.program.motions.feeds & (motions.spindle != 0) & (motions.rpm > 0.0) & (motions.rpm < limit)
    for tool, rows in by_tool(subject.program, np.flatnonzero(slow)):
        rpm = float(motions.rpm[rows].min())
        message = f"S{rpm:.0f} is less than the machine can hold ({limit:.0f} rpm)."
        yield Finding(
            "rpm-under-machine", Weight.DECIDE, lines_of(subject.program, rows), message,
            tool=tool, measured=rpm, limit=limit, unit="rpm", basis=f"machine {subject.machine.name}",
        )  # fmt: skip


def too_fast_for_tool(subject: Subject) -> Iterator[Finding]:
    motions = subject.program.motions
    for tool, rows in by_tool(subject.program, np.flatnonzero(motions.spindle != 0)):
        known = subject.tool(tool)
        if known is None or not known.max_rpm:
            continue
        over = rows[motions.rpm[rows] > known.max_rpm]
        if len(over):
            rpm = float(motions.rpm[over].max())
            message = f"S{rpm:.0f} is more than tool {tool} ({known.name}) may turn ({known.max_rpm:.0f} rpm)."
            yield Finding(
                "rpm-over-tool", Weight.MUST_FIX, lines_of(subject.program, over), message,
                tool=tool, measured=rpm, limit=known.max_rpm, unit="rpm", basis=f"crib, tool {tool}",
            )  # fmt: skip


def feed_over_machine(subject: Subject) -> Iterator[Finding]:
    if subject.machine is None:
        return
    motions, limit = subject.program.motions, subject.machine.max_feed_mm_min
    feed = np.nan_to_num(motions.feed_mm_min, nan=0.0)
    for tool, rows in by_tool(subject.program, np.flatnonzero(subject.program.motions.feeds & (feed > limit + 1e-9))):
        most = float(feed[rows].max())
        message = f"A feed of {most:.0f} mm/min is more than the machine cuts at ({limit:.0f} mm/min)."
        yield Finding(
            "feed-over-machine", Weight.MUST_FIX, lines_of(subject.program, rows), message,
            tool=tool, measured=most, limit=limit, unit="mm/min", basis=f"machine {subject.machine.name}",
        )  # fmt: skip


RULES = (spindle_stopped, too_fast_for_machine, too_slow_for_machine, too_fast_for_tool, feed_over_machine)
