"""Setups, the tools they need, and the places in them where a person touches the part."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.planning import rotation
from shopflow.jobs.actions.fixing import fix, write_typed
from shopflow.jobs.actions.locked import job_off_the_floor
from shopflow.jobs.actions.numbering import renumber_setups, renumber_steps
from shopflow.jobs.actions.operations import forget_tool, retime_operations, retime_step
from shopflow.jobs.actions.plan import left_out_key
from shopflow.jobs.models import Job, Setup, SetupTool, Step, Touch
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes
from shopflow.shop.models import Tool

TYPED = (
    "title", "machine", "up", "along_x", "tilt_x", "tilt_y", "turn_z", "workholding", "grip", "work_offset", "zero_x",
    "zero_y", "zero_z", "zero_point", "pick_up_by", "pick_up", "stock_in", "blank_x", "blank_y", "blank_z",
    "blank_over", "manual_reason", "held_by", "jaws_along", "jaw_length", "jaw_thick", "parallel_height",
    "parallel_thick", "bed_height", "solids", "blank_round", "blank_holes", "vary_x", "vary_y", "vary_z", "fixture",
    "blank_file", "fixed_jaw", "stop_side", "located_on", "datums",
)  # fmt: skip
"""What a person may type about a setup."""
HELD = frozenset({"grip", "fixture"})
"""What the minutes of setting up and of loading depend on."""


@transaction.atomic
def add_setup(job: Job, *, by: User) -> Setup:
    """One more clamping, with its step after the last milling step."""
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    number = now.setups.count() + 1
    setup = Setup.objects.create(job=now, number=number, title=_("mill"), fixed=["title"])
    order = list(now.steps.select_related("setup"))
    milled = [place for place, step in enumerate(order) if step.kind == Step.Kind.MILL]
    sawn = [place for place, step in enumerate(order) if step.kind == Step.Kind.SAW]
    step = Step(job=now, kind=Step.Kind.MILL, title=setup.title, setup=setup, first_piece=True)
    order.insert((milled or sawn or [-1])[-1] + 1, step)
    renumber_steps(order)
    for row in order:
        row.save()
    _noted("setup_added", now, setup, by=by)
    return setup


@transaction.atomic
def change_setup(setup: Setup, *, by: User, **typed: Any) -> Setup:
    """Write what a person typed; those fields stay when the plan is proposed again. Raises NotSquare."""
    require(by, Act.PLAN)
    unknown = set(typed) - set(TYPED)
    if unknown:
        raise TypeError(f"a setup has no {', '.join(sorted(unknown))} to type")
    job, now = _locked(setup)
    changed = write_typed(now, typed)
    if now.along_x:
        rotation(now.up, now.along_x, now.angles)
    if changed:
        now.save()
        if "title" in changed:
            _title_step(now)
        if "machine" in changed:
            retime_operations(now, units=by.units)
        elif HELD.intersection(changed):
            retime_step(now)
        _noted("setup_changed", job, now, by=by, fields=changed)
    return now


@transaction.atomic
def release_fields(setup: Setup, *, by: User) -> Setup:
    """Let everything about this setup be proposed again, as if nobody had typed it."""
    require(by, Act.PLAN)
    job, now = _locked(setup)
    if now.fixed:
        now.fixed = []
        now.save(update_fields=["fixed"])
        now.operations.exclude(key="").update(fixed=[])
        _noted("setup_freed", job, now, by=by)
    return now


@transaction.atomic
def remove_setup(setup: Setup, *, by: User) -> None:
    """Take a setup and its step out; a new proposal does not bring it back. One that has a program stays."""
    require(by, Act.PLAN)
    job, now = _locked(setup)
    if now.programs.exists():
        raise NotPossible(_("Setup %d has a program. Take the setup off its programs first.") % now.number)
    job.left_out = sorted({*job.left_out, left_out_key(now.clamping)})
    job.save(update_fields=["left_out"])
    _noted("setup_removed", job, now, by=by)
    now.delete()
    renumber_setups(list(job.setups.all()))
    order = list(job.steps.select_related("setup"))
    renumber_steps(order)
    for step in order:
        step.save()


@transaction.atomic
def add_tool(setup: Setup, *, by: User, tool: Tool, purpose: str = "") -> SetupTool:
    """Pick a tool of the crib; the setup's tools are then a person's choice and stay when it is proposed again."""
    require(by, Act.PLAN)
    job, now = _locked(setup)
    try:
        with transaction.atomic():
            row = SetupTool.objects.create(setup=now, tool=tool, purpose=purpose)
    except IntegrityError as error:
        raise NotPossible(_("%s is picked for this setup already.") % tool) from error
    _tools_changed(job, now, by=by)
    return row


@transaction.atomic
def drop_tool(row: SetupTool, *, by: User) -> None:
    require(by, Act.PLAN)
    job, now = _locked(row.setup)
    row.delete()
    forget_tool(now, row.tool)
    _tools_changed(job, now, by=by)


@transaction.atomic
def add_touch(setup: Setup, *, by: User, reason: str, after_tool: Tool | None = None) -> Touch:
    """Ask for a stop: a place inside the program where a person must touch the part."""
    require(by, Act.PLAN)
    job, now = _locked(setup)
    touch = Touch.objects.create(setup=now, after_tool=after_tool, reason=reason)
    _noted("touch_added", job, now, by=by, touch=touch.pk)
    return touch


@transaction.atomic
def drop_touch(touch: Touch, *, by: User) -> None:
    require(by, Act.PLAN)
    job, now = _locked(touch.setup)
    _noted("touch_dropped", job, now, by=by, touch=touch.pk)
    touch.delete()


def _title_step(setup: Setup) -> None:
    """The step is called as its setup is, unless somebody typed another title for it."""
    step = Step.objects.filter(setup=setup).first()
    if step and "title" not in step.fixed:
        step.title = setup.title
        step.save(update_fields=["title"])


def _locked(setup: Setup) -> tuple[Job, Setup]:
    job = job_off_the_floor(setup.job)
    return job, Setup.objects.select_for_update().get(pk=setup.pk)


def _tools_changed(job: Job, setup: Setup, *, by: User) -> None:
    fix(setup, "tools")
    setup.save(update_fields=["fixed"])
    retime_step(setup)
    numbers = sorted(setup.setup_tools.values_list("tool__number", flat=True))
    _noted("setup_tools_picked", job, setup, by=by, tools=numbers)


def _noted(kind: str, job: Job, setup: Setup, *, by: User, **payload: Any) -> None:
    ledger.append(kind, chain=job.chain, subject=("job", job.pk), by=by, setup=setup.number, **payload)
    changes.announce(by=by, jobs=[job.pk])
