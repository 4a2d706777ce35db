"""Turns what the other parts know into findings.

One file a family of rules; a rule is a small function from the `Subject` to findings. A clean review says that these
rules noticed nothing; it never says that a program is safe.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from shopflow.core.cutting.rows import DataRow
from shopflow.core.nc import Program
from shopflow.core.review import (
    air_rules,
    contact_rules,
    coolant_rules,
    drilling_rules,
    hole_rules,
    life_rules,
    load_rules,
    order_rules,
    plan_rules,
    reading_rules,
    result_rules,
    speed_rules,
    spindle_rules,
    start_end_rules,
    stop_rules,
    tapping_rules,
    tool_rules,
    travel_rules,
    use_rules,
)
from shopflow.core.review.cut import Cut
from shopflow.core.review.finding import Finding, PersonTouch, PlanFacts, Rule, Subject, Weight, with_key
from shopflow.core.review.house_rules import HouseRules
from shopflow.core.review.life import OnHand, Wear
from shopflow.core.types import Machine, Material, Tool

TEXT_RULES: tuple[Rule, ...] = (
    *reading_rules.RULES,
    *start_end_rules.RULES,
    *spindle_rules.RULES,
    *coolant_rules.RULES,
    *tool_rules.RULES,
    *life_rules.RULES,
    *stop_rules.RULES,
    *travel_rules.RULES,
    *drilling_rules.RULES,
    *tapping_rules.RULES,
    *order_rules.TEXT_RULES,
    *plan_rules.RULES,
)
"""What can be said without knowing the material that the program meets."""

CUT_RULES: tuple[Rule, ...] = (
    *contact_rules.RULES,
    *result_rules.RULES,
    *air_rules.RULES,
    *use_rules.RULES,
    *speed_rules.RULES,
    *hole_rules.RULES,
    *order_rules.CUT_RULES,
    *load_rules.RULES,
)
"""What is said of each setup that was simulated; none of it without a `Cut`."""

RULES = (*TEXT_RULES, *CUT_RULES)

READING_RULES: tuple[Rule, ...] = (*reading_rules.RULES, tool_rules.not_in_crib)
"""What can be said of a program without a machine, a plan or a setup."""

VERSION = 4
"""Recorded with every review; raised when a rule comes or changes."""


def run(
    program: Program,
    *,
    machine: Machine | None,
    tools: Mapping[int, Tool] | None,
    house_rules: HouseRules | None = None,
    plan: PlanFacts | None = None,
    cut: Cut | None = None,
    material: Material | None = None,
    own_data: Sequence[DataRow] = (),
    simulated: bool = False,
    seconds: NDArray[np.float64] | None = None,
    on_hand: OnHand | None = None,
    rules: Sequence[Rule] = RULES,
) -> tuple[Finding, ...]:
    """Every finding, heaviest first, then by line. machine, tools: None when not chosen; a note then says so.

    cut: the simulation of this program; rules about what is cut say nothing without it. The rest is as `Subject` says.
    """
    subject = Subject(
        program, machine, tools, house_rules or HouseRules(), plan, cut,
        material=material, own_data=tuple(own_data), simulated=simulated or cut is not None, seconds=seconds,
        on_hand=on_hand or OnHand(),
    )  # fmt: skip
    found = [finding for rule in rules for finding in rule(subject)]
    found += _left_out(subject)
    return heaviest_first(with_key(finding, program) for finding in found)


def heaviest_first(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """In the order in which findings are shown."""
    return tuple(sorted(found, key=lambda finding: (-finding.weight.rank, finding.lines, finding.code)))


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
    "CUT_RULES",
    "READING_RULES",
    "RULES",
    "TEXT_RULES",
    "VERSION",
    "Cut",
    "Finding",
    "HouseRules",
    "OnHand",
    "PersonTouch",
    "PlanFacts",
    "Wear",
    "Weight",
    "heaviest_first",
    "run",
]
