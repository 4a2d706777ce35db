"""What a review notices, and what it looks at."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shopflow.core.cutting.rows import DataRow
from shopflow.core.nc import Program
from shopflow.core.review.classing import Does, classed
from shopflow.core.review.cut import Cut
from shopflow.core.review.house_rules import HouseRules
from shopflow.core.review.life import OnHand
from shopflow.core.types import Machine, Material, Tool

MOST_LINES = 200
"""Lines that a finding lists; one about a whole 3D pass names the first of them."""


class Weight(StrEnum):
    """How much a finding weighs, heaviest first."""

    MUST_FIX = "must-fix"
    DECIDE = "decide"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """The higher, the heavier."""
        return -list(Weight).index(self)


@dataclass(frozen=True)
class Finding:
    """One thing the review noticed.

    code: which rule. lines: of the program, from 1. tool: its number, 0 when none is concerned. measured and limit in
    `unit`, None where the rule has no number. basis: where the limit comes from. key: the same as long as the rule, the
    text of the lines and the measured value are, so that a decision can be carried to the next revision.
    """

    code: str
    weight: Weight
    lines: tuple[int, ...]
    message: str
    tool: int = 0
    measured: float | None = None
    limit: float | None = None
    unit: str = ""
    basis: str = ""
    key: str = ""


@dataclass(frozen=True)
class PersonTouch:
    """A place in the plan where a person must touch the part inside this program.

    after_setup: its number. reason: what the person does. work_offset, next_work_offset: of the setups before and
    after ("G54"); empty when not planned.
    """

    after_setup: int
    reason: str
    work_offset: str = ""
    next_work_offset: str = ""


@dataclass(frozen=True)
class PlanFacts:
    """What the review needs to know of the plan. work_offsets: those the plan expects, such as ("G54", "G55").

    tools: numbers that the plan has for this program's setups; none where it names none. minutes: how long the plan
    takes the program to run, 0 where it does not say. order: numbers of its operations' tools, each where it first is;
    orders: the same for each work offset, where the plan says it setup by setup.
    """

    person_touches: tuple[PersonTouch, ...] = ()
    work_offsets: tuple[str, ...] = ()
    tools: tuple[int, ...] = ()
    minutes: float = 0.0
    order: tuple[int, ...] = ()
    orders: tuple[tuple[str, tuple[int, ...]], ...] = ()


@dataclass(frozen=True)
class Subject:
    """Everything that a rule may look at. tools: the crib's, by number in the program; None when not chosen yet.

    cut: what the program cuts, None where it was not simulated. material: None where nobody has said it. own_data: the
    shop's own speeds and feeds. simulated: whether rules about what is cut look at this program too, now or elsewhere.
    seconds: (n,) of each motion. on_hand: the lot and the wear of its tools on the day of the review.
    """

    program: Program
    machine: Machine | None = None
    tools: Mapping[int, Tool] | None = None
    house_rules: HouseRules = field(default_factory=HouseRules)
    plan: PlanFacts | None = None
    cut: Cut | None = None
    material: Material | None = None
    own_data: tuple[DataRow, ...] = ()
    simulated: bool = False
    seconds: NDArray[np.float64] | None = None
    on_hand: OnHand = OnHand()

    def tool(self, number: int) -> Tool | None:
        """The crib's tool of this number in the program, None where it is not known."""
        return (self.tools or {}).get(number)

    @cached_property
    def doing(self) -> Does:
        """(n,) uint8, what each motion does (`classing.Doing`)."""
        return classed(self.program.motions, self.tools or {}, self.cut.removal if self.cut else None)


Rule = Callable[[Subject], Iterable[Finding]]


def with_key(finding: Finding, program: Program) -> Finding:
    """The finding with its key, made from code, text of the lines without blanks, and measured value."""
    texts = ["".join(program.text(line).split()).upper() for line in finding.lines]
    measured = "" if finding.measured is None else f"{finding.measured:.4f}"
    payload = "\n".join([finding.code, str(finding.tool), measured, *texts])
    digest = hashlib.sha256(payload.encode()).hexdigest()[:24]
    return replace(finding, key=digest)


def sensible(value: float, unit: str = "mm") -> float:
    """As finely as it means something: a thousandth of a millimetre, a tenth of a second."""
    return round(value, 1 if unit == "s" else 3)


def lines_of(program: Program, rows: NDArray[np.intp]) -> tuple[int, ...]:
    """The lines that these motions come from, in order, each once, the first MOST_LINES of them."""
    lines = dict.fromkeys(program.motions.line[rows[: MOST_LINES * 50]].tolist())
    return tuple(lines)[:MOST_LINES]


def stretches(rows: NDArray[np.intp]) -> Iterator[NDArray[np.intp]]:
    """Rows cut where they are not neighbours, so that one cause gives one finding."""
    if len(rows):
        yield from np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)


def by_tool(program: Program, rows: NDArray[np.intp]) -> Iterator[tuple[int, NDArray[np.intp]]]:
    """Rows sorted by the tool in the spindle, in order of first use."""
    tools = program.motions.tool[rows]
    for tool in dict.fromkeys(tools.tolist()):
        yield int(tool), rows[tools == tool]
