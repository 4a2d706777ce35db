"""What a packet stands for: when any of it changes, a new packet has to be printed."""

from __future__ import annotations

from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job
from shopflow.programs import queries as programs
from shopflow.programs.models import Program
from shopflow.records.canonical import digest


def content_hash(job: Job) -> str:
    """Hash of everything that the traveler and the floor copies say: the job's facts, the plan, the signed bytes."""
    return digest(
        {
            "format": 1,
            "job": job.number,
            "part": str(job.revision),
            "quantity": job.quantity,
            "due": job.due_on,
            "material": job.material.name if job.material else "",
            "heat": job.heat_number,
            **_heats(job),
            "plan": jobs.plan_hash(job),
            "programs": [_signed(program) for program in programs.programs_of(job)],
        }
    )


def _heats(job: Job) -> dict[str, object]:
    """Only where there are several: packets from before lots went by heat still hold."""
    shares = jobs.heat_shares(job)
    return {"heats": [[one.heat, one.pieces] for one in shares]} if len(shares) > 1 else {}


def _signed(program: Program) -> list[object]:
    """Name and bytes of a program, and whose sign-off stands under them."""
    revision = programs.newest(program)
    if revision is None:
        return [program.name, "", 0]
    sign_off = programs.sign_off_standing(revision).sign_off
    return [program.name, revision.stored.sha256, sign_off.pk if sign_off else 0]
