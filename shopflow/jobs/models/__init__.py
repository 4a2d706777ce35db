"""What a customer ordered, and the plan to make it: orders, their setups, the routing, blanks, operations
and what is bought for them.

Imports go one way, in that order.
"""

from shopflow.jobs.models.blanks import BarPick, SuppliedBlanks
from shopflow.jobs.models.buying import ToolOrder
from shopflow.jobs.models.operations import Operation, SetUpTaken, TimeTaken
from shopflow.jobs.models.orders import Customer, Governing, Job, JobFile, Part, PartRevision, Question, Stage, Threads
from shopflow.jobs.models.routing import CHARACTERISTIC_KINDS, Characteristic, PlanApproval, Step
from shopflow.jobs.models.setups import ALONG_X, SIDES_SEEN, WORK_OFFSETS, Direction, PickUp, Setup, SetupTool, Touch

__all__ = [
    "ALONG_X",
    "BarPick",
    "CHARACTERISTIC_KINDS",
    "Characteristic",
    "Customer",
    "Direction",
    "Governing",
    "Job",
    "JobFile",
    "Operation",
    "Part",
    "PartRevision",
    "PickUp",
    "PlanApproval",
    "Question",
    "SIDES_SEEN",
    "SetUpTaken",
    "Setup",
    "SetupTool",
    "Stage",
    "Step",
    "SuppliedBlanks",
    "Threads",
    "TimeTaken",
    "ToolOrder",
    "Touch",
    "WORK_OFFSETS",
]
