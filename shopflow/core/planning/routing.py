"""The steps of a plan: the saw, one for each setup, then deburring, inspecting and shipping."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.core.planning.blanks.blank import BlankProposal
from shopflow.core.planning.given import Given
from shopflow.core.planning.minutes import cutting_minutes, deburr_minutes, inspect_minutes, saw_minutes
from shopflow.core.planning.operations import OperationKind
from shopflow.core.planning.proposal import SetupProposal, StepKind, StepProposal
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.setting_up import Held, load_minutes, setup_minutes
from shopflow.core.solid.reading import Reading


def routing(
    reading: Reading, blank: BlankProposal, setups: Sequence[SetupProposal], given: Given
) -> tuple[StepProposal, ...]:
    """In the order of the work; a blank that is a solid of its own is not sawn."""
    sawn = () if given.cast is not None else (_saw(blank, given.rules),)
    return (*sawn, *(_mill_step(setup, given) for setup in setups), *_last_steps(reading, setups, given))


def _saw(blank: BlankProposal, rules: PlanRules) -> StepProposal:
    """Sawn across its longest side, since bars are bought by section."""
    sizes = sorted(blank.size_mm)
    return StepProposal(StepKind.SAW, "saw the blanks", None, saw_minutes(sizes[0] * sizes[1], rules), 5.0)


def _mill_step(setup: SetupProposal, given: Given) -> StepProposal:
    """Loading and cutting a piece; without a machine nobody knows how long that takes."""
    cutting = cutting_minutes(setup.operations, setup.machine)
    held = Held.VISE if setup.holding.grip_mm is not None else Held.CLAMPS
    minutes = None
    if cutting is not None and setup.machine is not None:
        group = given.material.group if given.material else ""
        plain = load_minutes(given.rules, held=held) + cutting
        minutes = plain * given.correction.of(setup.machine.name, group).ratio
    is_aslant, tools = setup.tilted is not None, len(setup.tools)
    to_set_up = setup_minutes(tools, given.rules, is_vise=held is Held.VISE, is_aslant=is_aslant)
    to_set_up *= given.correction.of_setting_up(held).ratio
    return StepProposal(StepKind.MILL, setup.title, setup.number, minutes, to_set_up, first_piece=True)


def _last_steps(reading: Reading, setups: Sequence[SetupProposal], given: Given) -> tuple[StepProposal, ...]:
    """Hands break the edges that no setup breaks on the machine."""
    broken = sum(one.length_mm for setup in setups for one in setup.operations if one.kind is OperationKind.EDGES)
    by_hand = max(reading.sharp_edges.length_mm - broken, 0.0)
    return (
        StepProposal(StepKind.DEBURR, "deburr", None, deburr_minutes(by_hand, given.rules), 0.0),
        StepProposal(StepKind.INSPECT, "inspect", None, inspect_minutes(given.measurements, given.rules), 5.0),
        StepProposal(StepKind.SHIP, "pack and ship", None, 0.5, 0.0),
    )
