"""The routing of a job without a model: the usual steps, with everything about them left for a person to say."""

from __future__ import annotations

from shopflow.core.planning.clamping.holding import Holding
from shopflow.core.planning.proposal import Proposal, SetupProposal, StepKind, StepProposal


def bare_routing() -> Proposal:
    """Saw, one setup, deburr, inspect, ship; no minutes, no blank, no tools."""
    nothing = Holding(workholding="", grip_mm=None, work_offset=1, pick_up="", stock_in="")
    setup = SetupProposal(1, "+Z", "mill", None, nothing, None, (), ())
    steps = (
        StepProposal(StepKind.SAW, "saw the blanks", None, None, None),
        StepProposal(StepKind.MILL, setup.title, 1, None, None, first_piece=True),
        StepProposal(StepKind.DEBURR, "deburr", None, None, None),
        StepProposal(StepKind.INSPECT, "inspect", None, None, None),
        StepProposal(StepKind.SHIP, "pack and ship", None, None, None),
    )
    return Proposal(None, (setup,), steps, (), ())
