"""Findings about the program against the plan that it was written for."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.nc import offset_number
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of, sensible

_PLAN, _OPERATIONS = "the plan's tools", "the plan's operations"


def tool_not_planned(subject: Subject) -> Iterator[Finding]:
    """The machinist sets up the tools of the plan: one more in the program stands in no pocket."""
    if subject.plan is None or not subject.plan.tools:
        return
    motions = subject.program.motions
    for tool in subject.program.tools:
        if tool not in subject.plan.tools:
            rows = np.flatnonzero(motions.tool == tool)
            lines = lines_of(subject.program, rows[:1]) or (subject.program.lines,)
            message = f"The program calls T{tool}; the plan has no such tool for its setups."
            yield Finding("tool-not-planned", Weight.DECIDE, lines, message, tool=tool, basis=_PLAN)


def planned_not_used(subject: Subject) -> Iterator[Finding]:
    """A tool of the plan that the program never calls: what it was for may be missing."""
    if subject.plan is None:
        return
    for tool in subject.plan.tools:
        if tool not in subject.program.tools:
            message = f"The plan has T{tool}; the program never calls it."
            yield Finding("planned-not-used", Weight.NOTE, (1,), message, tool=tool, basis=_PLAN)


def offsets_in_order(subject: Subject) -> Iterator[Finding]:
    """The plan cuts setup 1 in G54 before setup 2 in G55; the program goes the other way round."""
    if subject.plan is None or len(subject.plan.work_offsets) < 2:
        return
    used = [name for name in subject.program.work_offsets if name in subject.plan.work_offsets]
    planned = [name for name in subject.plan.work_offsets if name in used]
    if used != planned:
        message = f"The program works in {', '.join(used)} in this order; the plan has {', '.join(planned)}."
        yield Finding("order-not-planned", Weight.DECIDE, (1,), message, basis="the plan's order of setups")


def tools_in_order(subject: Subject) -> Iterator[Finding]:
    """The plan drills before it taps; the program calls the tap first. Asked of each setup by itself."""
    plan, motions = subject.plan, subject.program.motions
    if plan is None:
        return
    for offset, order in plan.orders or (("", plan.order),):
        here = motions.work_offset == offset_number(offset) if offset else np.ones(len(motions), bool)
        used = [tool for tool in dict.fromkeys(motions.tool[here].tolist()) if tool in order]
        planned = [tool for tool in dict.fromkeys(order) if tool in used]  # a setup file may name one again
        apart = next((pair for pair in zip(used, planned, strict=True) if pair[0] != pair[1]), None)
        if apart is not None:
            early, first = apart
            lines = lines_of(subject.program, np.flatnonzero(here & (motions.tool == early))[:1])
            where = f" in {offset}" if offset else ""
            message = f"T{early} comes before T{first}{where}; the plan's operations have T{first} first."
            yield Finding("tools-in-other-order", Weight.NOTE, lines, message, tool=early, basis=_OPERATIONS)


def time_over_plan(subject: Subject) -> Iterator[Finding]:
    """Planned for 12 minutes, runs 25: a feed is wrong, or the delivery date is."""
    if subject.plan is None or subject.plan.minutes <= 0.0 or subject.seconds is None:
        return
    share = subject.house_rules.limit("time_over_plan")
    minutes = float(subject.seconds.sum()) / 60.0
    limit = subject.plan.minutes * (1.0 + share)
    if minutes > limit:
        message = f"The program runs about {minutes:.1f} min; the plan has {subject.plan.minutes:.1f} min."
        yield Finding(
            "time-over-plan", Weight.NOTE, (1,), message, measured=sensible(minutes), limit=sensible(limit),
            unit="min", basis=subject.house_rules.basis("time_over_plan"),
        )  # fmt: skip


RULES = (tool_not_planned, planned_not_used, offsets_in_order, tools_in_order, time_over_plan)
