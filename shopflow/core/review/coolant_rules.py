"""Findings about coolant. Whether a tool should cut dry is the shop's to say: this only sees what stands out."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.cutting.groups import group_of
from shopflow.core.review.finding import Finding, Subject, Weight, by_tool, lines_of
from shopflow.core.types import Coolant, ToolShape


def cuts_dry(subject: Subject) -> Iterator[Finding]:
    """A tool that never has coolant while another of the same program has it: mostly a line that was forgotten."""
    motions = subject.program.motions
    feeding = motions.feeds
    if not (feeding & (motions.coolant != 0)).any():
        return
    for tool, rows in by_tool(subject.program, np.flatnonzero(feeding & (motions.tool != 0))):
        known = subject.tool(tool)
        if motions.coolant[rows].any() or (known is not None and known.shape is ToolShape.PROBE):
            continue
        message = f"T{tool} cuts without coolant from line {motions.line[rows[0]]} on; other tools here have it."
        basis = "common practice, no source"
        yield Finding("cuts-dry", Weight.DECIDE, lines_of(subject.program, rows[:1]), message, tool=tool, basis=basis)


_STICKY = frozenset({"aluminium", "stainless steel", "titanium"})
_BY_HEAT = frozenset({ToolShape.DRILL, ToolShape.TAP, ToolShape.REAMER})


def _group(subject: Subject) -> str:
    return group_of(subject.material.group, subject.material.name) if subject.material else ""


def all_dry(subject: Subject) -> Iterator[Finding]:
    """Drilling or tapping aluminium, stainless steel or titanium in a program that never switches anything on."""
    motions = subject.program.motions
    feeding = motions.feeds
    if _group(subject) not in _STICKY or (feeding & (motions.coolant != 0)).any():
        return
    for tool, rows in by_tool(subject.program, np.flatnonzero(feeding & (motions.tool != 0))):
        known = subject.tool(tool)
        if known is not None and known.shape in _BY_HEAT:
            message = f"T{tool} ({known.name}) cuts dry in {_group(subject)}, as does the whole program: chips weld on."
            basis, lines = "common practice, no source", lines_of(subject.program, rows[:1])
            yield Finding("all-dry", Weight.DECIDE, lines, message, tool=tool, basis=basis)


def through_without(subject: Subject) -> Iterator[Finding]:
    """Coolant through the tool where machine or tool has no way for it: nothing comes, or a seal suffers."""
    motions = subject.program.motions
    feeding = motions.feeds
    asked = feeding & ((motions.coolant & Coolant.THROUGH) != 0)
    for tool, rows in by_tool(subject.program, np.flatnonzero(asked)):
        known = subject.tool(tool)
        if subject.machine is not None and not subject.machine.through_coolant:
            basis, who = f"machine {subject.machine.name}", "the machine has none"
        elif known is not None and not known.through_coolant:
            basis, who = f"crib, tool {tool}", "the tool has no channel for it"
        else:
            continue
        message = f"T{tool} asks for coolant through the tool; {who}."
        yield Finding(
            "through-without", Weight.DECIDE, lines_of(subject.program, rows), message, tool=tool, basis=basis
        )


def wet_magnesium(subject: Subject) -> Iterator[Finding]:
    """Water and magnesium chips make hydrogen."""
    motions = subject.program.motions
    wet = (motions.coolant & (Coolant.FLOOD | Coolant.MIST | Coolant.THROUGH)) != 0
    rows = np.flatnonzero(wet & motions.feeds)
    if _group(subject) == "magnesium" and len(rows):
        message = "Coolant runs over magnesium: with water in it chips give off hydrogen. Cut dry, or with mineral oil."
        basis = "NFPA 484 (from memory): no water-based coolant on magnesium without what the standard asks for"
        yield Finding("wet-magnesium", Weight.DECIDE, lines_of(subject.program, rows), message, basis=basis)


RULES = (cuts_dry, all_dry, through_without, wet_magnesium)
