"""What a plan proposes: blank, setups, routing, and what it has to say about them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from shopflow.core.orientation import SQUARE, Angles
from shopflow.core.planning.blanks.blank import BlankProposal, StockIn
from shopflow.core.planning.clamping.holding import Holding
from shopflow.core.planning.clamping.locating import Locating
from shopflow.core.planning.needs import Need, why_out
from shopflow.core.planning.operations import Operation
from shopflow.core.planning.related import Apart
from shopflow.core.planning.sights import Account
from shopflow.core.planning.tilting.planned import TiltedPlan
from shopflow.core.planning.tilting.tilts import Tilt
from shopflow.core.planning.tooling import PickedTool, Wanted, picked, wanted
from shopflow.core.types import Machine


class StepKind(StrEnum):
    SAW = "saw"
    MILL = "mill"
    DEBURR = "deburr"
    INSPECT = "inspect"
    SHIP = "ship"


@dataclass(frozen=True)
class SetupProposal:
    """One clamping. machine: None where the shop's machines are all too small or there is none.

    stock: what is clamped; None without a model. operations: in the order of the work. tilted: how the part stands
    otherwise than by right angles, None where it does not. cautions: what to think about its tools, each as what the
    setup does.
    """

    number: int
    up: str
    title: str
    machine: Machine | None
    holding: Holding
    stock: StockIn | None
    operations: tuple[Operation, ...]
    needs: tuple[Need, ...]
    locating: Locating = Locating()
    tilted: TiltedPlan | None = None
    cautions: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """Names the clamping when the plan is proposed again: the side that is up, or the slanted direction."""
        return self.tilted.key if self.tilted else self.up

    @property
    def angles(self) -> Angles:
        return self.tilted.stand.angles if self.tilted else SQUARE

    @property
    def tools(self) -> tuple[PickedTool, ...]:
        """In the order they are first needed."""
        return picked(self.operations)

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """Tools that the crib does not have."""
        return wanted(self.operations)


@dataclass(frozen=True)
class StepProposal:
    """One line of the routing. setup: the number of its setup for a milling step, else None. Minutes may be unknown."""

    kind: StepKind
    title: str
    setup: int | None
    minutes_each: float | None
    minutes_setup: float | None
    first_piece: bool = False


@dataclass(frozen=True)
class SetupNote:
    """What to think about in one setup. setup: its number in the proposal. text: what follows the setup's name.

    about: fields of the setup that it speaks of; once a person typed one, it says nothing of what is done.
    """

    setup: int
    text: str
    about: tuple[str, ...] = ()


@dataclass(frozen=True)
class Proposal:
    """A plan to start from. blank: None where there is no model to take it from.

    unreached: what none of the setups reaches. notes: plain sentences, setup_notes: those about one setup. part_mm3:
    volume of the part. tilts: clampings with the part tilted that would reach some of it, where the house rule plans
    none; out_of_reach: what even they do not. apart: what is toleranced to one another and cut in several clampings.
    account: where each face is cut; None without a model.
    """

    blank: BlankProposal | None
    setups: tuple[SetupProposal, ...]
    steps: tuple[StepProposal, ...]
    unreached: tuple[Need, ...]
    notes: tuple[str, ...]
    part_mm3: float = 0.0
    tilts: tuple[Tilt, ...] = ()
    out_of_reach: tuple[Need, ...] = ()
    apart: tuple[Apart, ...] = ()
    setup_notes: tuple[SetupNote, ...] = ()
    account: Account | None = None

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """Tools that the crib does not have, each once."""
        return tuple(dict.fromkeys(want for setup in self.setups for want in setup.wanted))

    @property
    def unreached_words(self) -> list[str]:
        """What none of the setups reaches, equal ones counted."""
        return _counted(need.what for need in self.unreached)

    @property
    def out_of_reach_words(self) -> list[str]:
        """What no setup could reach, with why, equal ones counted."""
        return _counted(why_out(need) for need in self.out_of_reach)


def _counted(words: Iterable[str]) -> list[str]:
    return [f"{count} × {what}" if count > 1 else what for what, count in Counter(words).items()]
