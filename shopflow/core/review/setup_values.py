"""What SETUP.toml says, as values: the file is read in `setup_file` and written in `setup_text`."""

from __future__ import annotations

import math
import operator
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from shopflow.core.cutting.rows import DataRow
from shopflow.core.orientation import AXES, rotation
from shopflow.core.review.finding import PlanFacts
from shopflow.core.review.life import OnHand
from shopflow.core.stock.blanks import PLAIN, BlankForm
from shopflow.core.stock.compare_plan import OtherSetups
from shopflow.core.stock.holding import Solid
from shopflow.core.types import Box, Machine, Material, Placement, Tool, Vector

SCHEMA = 1

Side = str | Vector
"""A direction of the model: the name of one of AXES, or a vector where it lies along none."""

LETTERS = ("X", "Y", "Z")

AS_MODEL: Box = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
"""In place of the box of a blank that a model gives: the file does not say it, and the model is not read here."""


def way(side: Side) -> Vector:
    """Of length 1."""
    if isinstance(side, str):
        return AXES[side]
    length = math.hypot(*side)
    return side[0] / length, side[1] / length, side[2] / length


@dataclass(frozen=True)
class SetupBlock:
    """One [[setup]]: what is up, which axis of the model lies along the machine's X+, and where on the model X0 Y0 Z0
    lies, mm. solids: workholding in the setup's coordinates. later, known, unknown: which sides the job's other setups
    work on, of which what is known, as `OtherSetups` says. program: file of an
    earlier program that cuts this setup, "" where it is the one under review. tools: numbers that the plan has for this
    setup; the review asks for those of the whole program ([plan] tools). angles_deg: about the machine's X, Y and Z, in
    this order, by which it stands otherwise than by right angles."""

    number: int
    work_offset: str
    up: str
    along_x: str
    zero_mm: Vector
    solids: tuple[Solid, ...] = ()
    later: tuple[Side, ...] = ()
    known: tuple[Side, ...] = ()
    unknown: tuple[Side, ...] = ()
    program: str = ""
    tools: tuple[int, ...] = ()
    angles_deg: Vector = (0.0, 0.0, 0.0)

    @property
    def placement(self) -> Placement:
        """setup point = rotation · part point + origin; the rotation's rows are the machine's axes in the model's."""
        rows = rotation(self.up, self.along_x, self.angles_deg)
        x, y, z = (0.0 - sum(map(operator.mul, rows[at : at + 3], self.zero_mm)) for at in (0, 3, 6))
        return Placement(rows, (x, y, z))

    @property
    def looks_up(self) -> Side:
        """What looks at the spindle: the name of an axis, or a direction of the model."""
        if not any(self.angles_deg):
            return self.up
        x, y, z = self.placement.rotation[6:9]
        return x, y, z

    @property
    def others(self) -> OtherSetups:
        return OtherSetups(*(tuple(map(way, sides)) for sides in (self.later, self.known, self.unknown)))


@dataclass(frozen=True)
class SetupFile:
    """What the file says, with what it names read. model: path as written. blank, smallest: the largest and the
    smallest one, boxes in the model's coordinates, mm; AS_MODEL where `form` names the model of the blank. limits: what
    the shop set of the house rules. threads_at_major: whether the model has its threads at the major diameter. form: of
    the blank. earlier: (name, bytes) of the programs that run before, in their order."""

    model: str
    machine: Machine
    blank: Box
    smallest: Box
    setups: tuple[SetupBlock, ...]
    tools: tuple[Tool, ...]
    solid: int | None = None
    material: Material | None = None
    limits: Mapping[str, Decimal] = field(default_factory=dict)
    own_data: tuple[DataRow, ...] = ()
    plan: PlanFacts = PlanFacts()
    threads_at_major: bool = False
    form: BlankForm = PLAIN
    earlier: tuple[tuple[str, bytes], ...] = ()
    on_hand: OnHand = OnHand()

    def blocks_of(self, program: str = "") -> tuple[SetupBlock, ...]:
        """The setups that a program cuts, "" for the one under review."""
        return tuple(block for block in self.setups if block.program == program)
