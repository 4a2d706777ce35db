"""What must hold before a job may leave a stage: a plain list that page, action and test all read."""

from collections.abc import Callable

from shopflow.jobs.models import Job, Stage
from shopflow.workflow.gates.close import close_gate, ship_problems
from shopflow.workflow.gates.conditions import Condition, GateClosed, unmet
from shopflow.workflow.gates.desk import intake_gate, plan_gate, review_gate
from shopflow.workflow.gates.release import release_gate

__all__ = [
    "GATES",
    "Condition",
    "GateClosed",
    "close_gate",
    "gate_of",
    "intake_gate",
    "plan_gate",
    "release_gate",
    "review_gate",
    "ship_problems",
    "unmet",
]

GATES: dict[str, Callable[[Job], list[Condition]]] = {
    Stage.INTAKE: intake_gate,
    Stage.PLAN: plan_gate,
    Stage.REVIEW: review_gate,
    Stage.RELEASE: release_gate,
    Stage.FLOOR: close_gate,
    Stage.CLOSED: lambda job: [],
}


def gate_of(job: Job) -> list[Condition]:
    """The gate ahead of the job."""
    return GATES[job.stage](job)
