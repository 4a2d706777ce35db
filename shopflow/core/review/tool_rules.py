"""Findings about tools and their offsets."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.review.finding import Finding, Subject, Weight, by_tool, lines_of


def _tool_lines(subject: Subject, tool: int) -> tuple[int, ...]:
    """The line that first moves with this tool, else the last line of the program."""
    rows = np.flatnonzero(subject.program.motions.tool == tool)
    return (int(subject.program.motions.line[rows[0]]),) if len(rows) else (subject.program.lines,)


def not_in_crib(subject: Subject) -> Iterator[Finding]:
    if subject.tools is None:
        return
    for tool in subject.program.tools:
        if tool not in subject.tools:
            message = f"Tool T{tool} is not in the crib: its size and material are not known."
            lines = _tool_lines(subject, tool)
            yield Finding("tool-unknown", Weight.MUST_FIX, lines, message, tool=tool, basis="the crib's list of tools")


def no_tool_called(subject: Subject) -> Iterator[Finding]:
    motions = subject.program.motions
    rows = np.flatnonzero((motions.tool == 0) & motions.feeds)
    if len(rows):
        message = "The program feeds before it calls a tool: whatever sits in the spindle cuts."
        lines = lines_of(subject.program, rows[:1])
        yield Finding("no-tool-called", Weight.DECIDE, lines, message, basis="common practice, no source")


def no_length_offset(subject: Subject) -> Iterator[Finding]:
    """A feed with G49 or H0 in force: the control does not know how long the tool is."""
    motions = subject.program.motions
    feeding = motions.feeds
    bare = feeding & (motions.length_offset == 0) & (motions.work_offset != 0)
    for tool, rows in by_tool(subject.program, np.flatnonzero(bare)):
        message = f"T{tool} cuts with no length offset in force (G43 H) from line {motions.line[rows[0]]} on."
        basis = "NISTIR 6556, 3.5.11: H0 or G49 is an offset of zero"
        lines = lines_of(subject.program, rows[:1])
        yield Finding("no-length-offset", Weight.MUST_FIX, lines, message, tool=tool, basis=basis)


def other_tools_offset(subject: Subject) -> Iterator[Finding]:
    motions, rules = subject.program.motions, subject.house_rules
    shift = int(rules.value("length_offset_shift"))
    feeding = motions.feeds
    other = feeding & (motions.length_offset != 0) & (motions.tool != 0)
    other &= motions.length_offset != motions.tool + shift
    for tool, rows in by_tool(subject.program, np.flatnonzero(other)):
        number = int(motions.length_offset[rows[0]])
        message = f"T{tool} cuts with H{number}; by the house rule it would be H{tool + shift}."
        yield Finding(
            "length-offset-of-another", Weight.DECIDE, lines_of(subject.program, rows[:1]), message, tool=tool,
            measured=float(number), limit=float(tool + shift), basis=rules.basis("length_offset_shift"),
        )  # fmt: skip


def other_tools_diameter(subject: Subject) -> Iterator[Finding]:
    """D3 with T2: the path stands off by another tool's radius or wear."""
    motions, rules = subject.program.motions, subject.house_rules
    shift = int(rules.value("length_offset_shift"))
    other = (motions.radius_side != 0) & (motions.tool != 0) & (motions.radius_offset != 0)
    other &= motions.radius_offset != motions.tool + shift
    for tool, rows in by_tool(subject.program, np.flatnonzero(other)):
        number = int(motions.radius_offset[rows[0]])
        message = f"T{tool} is compensated by D{number}; by the house rule it would be D{tool + shift}."
        yield Finding(
            "diameter-offset-of-another", Weight.DECIDE, lines_of(subject.program, rows[:1]), message, tool=tool,
            measured=float(number), limit=float(tool + shift), basis=rules.basis("length_offset_shift"),
        )  # fmt: skip


def tool_without_pocket(subject: Subject) -> Iterator[Finding]:
    """A number that the machine's carousel does not have."""
    if subject.machine is None:
        return
    pockets = subject.machine.carousel
    for tool in subject.program.tools:
        if tool > pockets:
            message = f"T{tool} has no pocket: the carousel of the machine has {pockets}."
            yield Finding(
                "tool-without-pocket", Weight.DECIDE, _tool_lines(subject, tool), message, tool=tool,
                measured=float(tool), limit=float(pockets), basis=f"machine {subject.machine.name}",
            )  # fmt: skip


RULES = (not_in_crib, no_tool_called, no_length_offset, other_tools_offset, other_tools_diameter, tool_without_pocket)
