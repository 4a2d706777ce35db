"""Turns what the other parts know into findings.

One file a family of rules; a rule is a small function from the `Subject` to findings. A clean review says that these
rules noticed nothing; it never says that a program is safe.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shopflow.core.nc import Program
from shopflow.core.review import (
    air_rules,
    contact_rules,
    coolant_rules,
    drilling_rules,
    reading_rules,
    result_rules,
    spindle_rules,
    stop_rules,
    tool_rules,
    travel_rules,
)
from shopflow.core.review.cut import Cut
from shopflow.core.review.finding import Finding, PersonTouch, PlanFacts, Rule, Subject, Weight, with_key
from shopflow.core.review.house_rules import HouseRules
from shopflow.core.types import Machine, Tool

RULES: tuple[Rule, ...] = (
    *reading_rules.RULES,
    *spindle_rules.RULES,
    *coolant_rules.RULES,
    *tool_rules.RULES,
    *stop_rules.RULES,
    *travel_rules.RULES,
    *drilling_rules.RULES,
    *contact_rules.RULES,
    *result_rules.RULES,
    *air_rules.RULES,
)

READING_RULES: tuple[Rule, ...] = (*reading_rules.RULES, tool_rules.not_in_crib)
"""What can be said of a program without a machine, a plan or a setup."""

VERSION = 2
"""Recorded with every review; raised when a rule comes or changes."""

_ORDER = {Weight.MUST_FIX: 0, Weight.DECIDE: 1, Weight.NOTE: 2}


def run(
    program: Program,
    *,
    machine: Machine | None,
    tools: Mapping[int, Tool] | None,
    house_rules: HouseRules | None = None,
    plan: PlanFacts | None = None,
    cut: Cut | None = None,
    rules: Sequence[Rule] = RULES,
) -> tuple[Finding, ...]:
    """Every finding, heaviest first, then by line. machine, tools: None when not chosen; a note then says so.

    cut: the simulation of this program; rules about what is cut say nothing without it.
    """
    subject = Subject(program, machine, tools, house_rules or HouseRules(), plan, cut)
    found = [finding for rule in rules for finding in rule(subject)]
    found += _left_out(subject)
    keyed = (with_key(finding, program) for finding in found)
    return tuple(sorted(keyed, key=lambda finding: (_ORDER[finding.weight], finding.lines, finding.code)))


def _left_out(subject: Subject) -> list[Finding]:
    """What could not be checked is said, not passed over."""
    notes = []
    if subject.machine is None:
        message = "No machine is chosen: speeds, feeds and travel were not checked against one."
        notes.append(Finding("machine-not-chosen", Weight.NOTE, (1,), message, basis="nothing to check against"))
    if subject.tools is None:
        message = "No tool list is given: tools were not checked against the crib."
        notes.append(Finding("tools-not-given", Weight.NOTE, (1,), message, basis="nothing to check against"))
    return notes


__all__ = [
    "READING_RULES",
    "RULES",
    "VERSION",
    "Cut",
    "Finding",
    "HouseRules",
    "PersonTouch",
    "PlanFacts",
    "Weight",
    "run",
]
