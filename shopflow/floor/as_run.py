"""What the floor set for a lot: whether it was noted, and what was set the last time the part was run."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from shopflow.floor.models import AsRun, FloorCopy, Lot
from shopflow.jobs.models import Job, Step


def records() -> QuerySet[AsRun]:
    """All of them with what a page shows, newest first."""
    return AsRun.objects.select_related(
        "lot__job__revision__part", "step", "machine", "noted_by", "photo", "row"
    ).prefetch_related("tools")


def of_op(lot: Lot, step: Step) -> list[AsRun]:
    """Those of a lot at an op, and those of the lots that it was split from: its pieces were set up with them."""
    return list(records().filter(step=step, lot__in=lot.with_ancestors))


def of_job(job: Job) -> list[AsRun]:
    return list(records().filter(lot__job=job))


def last_time(step: Step) -> AsRun | None:
    """The newest record of the same setup in an earlier job of the same part revision, on the machine of today."""
    setup = step.setup
    if setup is None or setup.machine_id is None:
        return None
    found = records().filter(
        lot__job__revision=step.job.revision_id, step__setup__number=setup.number, machine=setup.machine_id
    )
    return found.exclude(lot__job=step.job_id).first()


def is_asked_for(step: Step) -> bool:
    """Ops that run a program of ours are asked for it; what is set by hand stands in nobody's program."""
    if step.setup_id is None:
        return False
    return FloorCopy.objects.filter(packet__job=step.job_id, revision__program__setups=step.setup_id).exists()


def is_noted(lot: Lot, step: Step) -> bool:
    return AsRun.objects.filter(step=step, lot__in=lot.with_ancestors).exists()


def problem(lot: Lot, step: Step) -> str:
    """Why the last pieces of the lot may not leave this op yet; "" where they may."""
    if is_noted(lot, step) or not is_asked_for(step):
        return ""
    return _(
        "These are the last pieces of lot %(lot)s at op %(op)s, and what was set for it is not noted yet: offsets, "
        "wear, overrides, tools. Note it first."
    ) % {"lot": lot.number, "op": step.op_number}


def missing_in(job: Job) -> list[tuple[Lot, Step]]:
    """Lots and ops that ran a program of ours, of which nothing was noted."""
    steps = [step for step in job.steps.exclude(setup=None).order_by("op_number") if is_asked_for(step)]
    ran = {(run.lot_id, run.step_id) for lot in job.lots.all() for run in lot.runs.all()}
    pairs: Iterable[tuple[Lot, Step]] = ((lot, step) for lot in job.lots.order_by("number") for step in steps)
    return [(lot, step) for lot, step in pairs if (lot.pk, step.pk) in ran and not is_noted(lot, step)]
