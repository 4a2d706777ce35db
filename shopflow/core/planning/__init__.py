"""Proposes blank, setups, tools, minutes and routing from what a model says. It does not write toolpaths."""

from shopflow.core.planning.actuals import (
    Correction,
    Ratio,
    SetUp,
    Took,
    correction,
    set_up_minutes,
    typical_minutes,
)
from shopflow.core.planning.bare import bare_routing
from shopflow.core.planning.blanks.blank import BlankProposal, StockIn
from shopflow.core.planning.changed import Difference, are_other_edges, cut_from, differences, is_cut_from, is_other_box
from shopflow.core.planning.clamping.holding import Holding, PickUp
from shopflow.core.planning.crib_row import CribRow, crib_row
from shopflow.core.planning.directions import AXES, is_same_way
from shopflow.core.planning.given import Given
from shopflow.core.planning.hole_operations import SizeLimits, ThreadsShown
from shopflow.core.planning.holes import HoleGroup, group_holes
from shopflow.core.planning.minutes import (
    Typed,
    changing_minutes,
    cutting_minutes,
    deburr_minutes,
    inspect_minutes,
    timed,
)
from shopflow.core.planning.needed_by import latest_start
from shopflow.core.planning.needs import Need
from shopflow.core.planning.operations import FACTS, Operation, OperationKind, Speeds
from shopflow.core.planning.passes import cautions, checked, has_passes
from shopflow.core.planning.placement import (
    NotSquare,
    Reference,
    Standing,
    blank_box,
    directions_along_x,
    long_side_along_x,
    placement,
    rotation,
)
from shopflow.core.planning.proposal import Proposal, SetupProposal, StepKind, StepProposal
from shopflow.core.planning.propose import propose
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.setting_up import Held, Jaws, MinutesPart, load_minutes, setting_up, setup_minutes, total
from shopflow.core.planning.tooling import PickedTool, Wanted
from shopflow.core.planning.workdays import Closed, Workdays

__all__ = [
    "Given",
    "SizeLimits",
    "ThreadsShown",
    "typical_minutes",
    "Closed",
    "Workdays",
    "latest_start",
    "Speeds",
    "OperationKind",
    "Operation",
    "FACTS",
    "timed",
    "set_up_minutes",
    "setup_minutes",
    "setting_up",
    "total",
    "Held",
    "Jaws",
    "MinutesPart",
    "changing_minutes",
    "deburr_minutes",
    "inspect_minutes",
    "load_minutes",
    "cutting_minutes",
    "Typed",
    "correction",
    "Took",
    "Ratio",
    "SetUp",
    "Correction",
    "AXES",
    "BlankProposal",
    "CribRow",
    "crib_row",
    "Difference",
    "HoleGroup",
    "Holding",
    "Need",
    "NotSquare",
    "PickUp",
    "PickedTool",
    "PlanRules",
    "Proposal",
    "Reference",
    "SetupProposal",
    "Standing",
    "StepKind",
    "StepProposal",
    "StockIn",
    "Wanted",
    "are_other_edges",
    "bare_routing",
    "blank_box",
    "cautions",
    "checked",
    "has_passes",
    "cut_from",
    "differences",
    "directions_along_x",
    "group_holes",
    "is_cut_from",
    "is_other_box",
    "is_same_way",
    "long_side_along_x",
    "placement",
    "propose",
    "rotation",
]
