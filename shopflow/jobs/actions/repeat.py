"""A new order of a known part begins with the plan that made it before."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.locked import job_off_the_floor
from shopflow.jobs.actions.operations import retime_by_hand, retime_step
from shopflow.jobs.models import Characteristic, Job, JobFile, Operation, Setup, SetupTool, Step, Touch
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes

Row = TypeVar("Row", Setup, Step, Characteristic, Operation)


@transaction.atomic
def copy_plan(job: Job, source: Job, *, by: User) -> Job:
    """Copy setups, operations, steps, fixtures, tools, stops, characteristics and notes of an earlier order.

    What a person had typed there counts as typed here too. Programs are not copied: each is brought in and signed off
    for its own job. Raises NotPossible where a person has worked on a plan here already.
    """
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    if source.pk == now.pk or source.part != now.part:
        raise NotPossible(_("Job %(other)s is of another part than job %(job)s.") % {"other": source, "job": now})
    if not source.steps.exists():
        raise NotPossible(_("Job %s has no plan to copy.") % source)
    if _is_worked_on(now):
        raise NotPossible(_("A person has worked on the plan of job %s already. Nothing was copied over it.") % now)
    now.setups.all().delete()
    now.steps.all().delete()
    setups = {row.pk: _copy_setup(row, now) for row in source.setups.all()}
    _copy_blanks(setups.values(), now, by=by)
    steps = {row.pk: _copy_step(row, now, setups) for row in source.steps.all()}
    for size in source.characteristics.all():
        _copy(size, job=now, step=steps.get(size.step_id or 0))
    now.plan_from, now.left_out, now.notes = source, source.left_out, now.notes or source.notes
    now.save(update_fields=["plan_from", "left_out", "notes"])
    for setup in setups.values():
        retime_step(setup)
    retime_by_hand(now)
    ledger.append("plan_copied", chain=now.chain, subject=("job", now.pk), by=by, of=source.pk, setups=len(setups))
    changes.announce(by=by, jobs=[now.pk])
    return now


def _is_worked_on(job: Job) -> bool:
    has_typed = any(row.fixed or row.programs.exists() for row in job.setups.all())
    return has_typed or any(row.fixed for row in job.steps.all()) or job.characteristics.exists()


def _copy_setup(row: Setup, job: Job) -> Setup:
    tools, touches, operations = list(row.setup_tools.all()), list(row.touches.all()), list(row.operations.all())
    made = _copy(row, job=job)
    for operation in operations:
        _copy(operation, setup=made)
    SetupTool.objects.bulk_create(SetupTool(setup=made, tool=one.tool, purpose=one.purpose) for one in tools)
    Touch.objects.bulk_create(Touch(setup=made, after_tool=one.after_tool, reason=one.reason) for one in touches)
    return made


def _copy_blanks(setups: Iterable[Setup], job: Job, *, by: User) -> None:
    """Models of blanks belong to their job: each one once more, of the same bytes, for this one."""
    own: dict[int, JobFile] = {}
    for setup in setups:
        if setup.blank_file:
            if setup.blank_file.pk not in own:
                own[setup.blank_file.pk] = _copy_file(setup.blank_file, job, by=by)
            setup.blank_file = own[setup.blank_file.pk]
            setup.save(update_fields=["blank_file"])


def _copy_file(row: JobFile, job: Job, *, by: User) -> JobFile:
    made = JobFile.objects.create(job=job, kind=row.kind, stored=row.stored, name=row.name, uploaded_by=by)
    ledger.append(
        "file_added", chain=job.chain, subject=("job", job.pk), by=by, file=made.pk, of=row.kind,
        sha256=row.stored.sha256,
    )  # fmt: skip
    return made


def _copy_step(row: Step, job: Job, setups: dict[int, Setup]) -> Step:
    return _copy(row, job=job, setup=setups.get(row.setup_id or 0))


def _copy(row: Row, **changes: object) -> Row:
    """The same row again as a new one, with some fields changed."""
    made = type(row).objects.get(pk=row.pk)
    made.pk, made._state.adding = None, True
    for name, value in changes.items():
        setattr(made, name, value)
    made.save(force_insert=True)
    return made
