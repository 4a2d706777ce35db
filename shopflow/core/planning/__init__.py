"""Proposes blank, setups, tools, minutes and routing from what a model says. It does not write toolpaths."""

from shopflow.core.planning.bare import bare_routing
from shopflow.core.planning.blank import BlankProposal
from shopflow.core.planning.holding import Holding
from shopflow.core.planning.holes import HoleGroup, group_holes
from shopflow.core.planning.needs import Need
from shopflow.core.planning.propose import Proposal, SetupProposal, StepKind, StepProposal, propose
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.tooling import PickedTool, Wanted

__all__ = [
    "BlankProposal",
    "HoleGroup",
    "Holding",
    "Need",
    "PickedTool",
    "PlanRules",
    "Proposal",
    "SetupProposal",
    "StepKind",
    "StepProposal",
    "Wanted",
    "bare_routing",
    "group_holes",
    "propose",
]
