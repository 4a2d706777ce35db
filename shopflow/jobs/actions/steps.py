"""The lines of the routing: added, changed, moved, taken out."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.fixing import write_typed
from shopflow.jobs.actions.locked import job_off_the_floor
from shopflow.jobs.actions.numbering import renumber_steps
from shopflow.jobs.models import Job, Step
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes

TYPED = ("op_number", "title", "instructions", "minutes_each", "minutes_setup", "first_piece")
"""What a person may type about a step."""


@transaction.atomic
def add_step(job: Job, *, by: User, kind: str, title: str, after: Step | None = None) -> Step:
    """A step that is not a setup, after another one, or before shipping where none is named."""
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    if kind == Step.Kind.MILL:
        raise NotPossible(_("A milling step comes with its setup: add a setup."))
    order = list(now.steps.select_related("setup"))
    step = Step(job=now, kind=kind, title=title, fixed=["title"])
    if kind in now.left_out:
        now.left_out = [name for name in now.left_out if name != kind]
        now.save(update_fields=["left_out"])
    order.insert(_place_after(order, after), step)
    _save_in_order(order)
    _noted("step_added", now, step, by=by)
    return step


@transaction.atomic
def change_step(step: Step, *, by: User, **typed: Any) -> Step:
    """Write what a person typed; those fields stay when the plan is proposed again."""
    require(by, Act.PLAN)
    unknown = set(typed) - set(TYPED)
    if unknown:
        raise TypeError(f"a step has no {', '.join(sorted(unknown))} to type")
    job, now = _locked(step)
    number = typed.get("op_number", now.op_number)
    if job.steps.exclude(pk=now.pk).filter(op_number=number).exists():
        raise NotPossible(_("Op %d is there already. Type a number that is free.") % number)
    changed = write_typed(now, typed)
    if changed:
        now.save()
        _noted("step_changed", job, now, by=by, fields=changed)
    return now


@transaction.atomic
def move_step(step: Step, *, by: User, up: bool) -> Step:
    """Change places with the neighbour; op numbers follow the new order."""
    require(by, Act.PLAN)
    job, now = _locked(step)
    order = list(job.steps.select_related("setup"))
    place = next(index for index, row in enumerate(order) if row.pk == now.pk)
    other = place - 1 if up else place + 1
    if not 0 <= other < len(order):
        return now
    order[place], order[other] = order[other], order[place]
    for row in (order[place], order[other]):
        row.fixed = [name for name in row.fixed if name != "op_number"]
    _save_in_order(order)
    _noted("step_moved", job, order[other], by=by)
    return order[other]


@transaction.atomic
def remove_step(step: Step, *, by: User) -> None:
    """Take a step out; a new proposal does not bring it back. A milling step goes with its setup."""
    require(by, Act.PLAN)
    job, now = _locked(step)
    if now.setup_id:
        raise NotPossible(_("This step goes with its setup: take the setup out."))
    if not job.steps.exclude(pk=now.pk).filter(kind=now.kind).exists():
        job.left_out = sorted({*job.left_out, now.kind})
        job.save(update_fields=["left_out"])
    _noted("step_removed", job, now, by=by)
    now.delete()
    _save_in_order(list(job.steps.select_related("setup")))


def _place_after(order: list[Step], after: Step | None) -> int:
    for index, row in enumerate(order):
        if after is not None and row.pk == after.pk:
            return index + 1
        if after is None and row.kind == Step.Kind.SHIP:
            return index
    return len(order)


def _save_in_order(order: list[Step]) -> None:
    renumber_steps(order)
    for row in order:
        row.save()


def _locked(step: Step) -> tuple[Job, Step]:
    job = job_off_the_floor(step.job)
    return job, Step.objects.select_for_update().get(pk=step.pk)


def _noted(kind: str, job: Job, step: Step, *, by: User, **payload: Any) -> None:
    ledger.append(kind, chain=job.chain, subject=("job", job.pk), by=by, op=step.op_number, **payload)
    changes.announce(by=by, jobs=[job.pk])
