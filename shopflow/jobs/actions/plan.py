"""The plan as a whole: proposed from the model, bent by people, approved by one of them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.planning import Proposal, SetupProposal, StepKind, StepProposal, bare_routing
from shopflow.jobs import queries
from shopflow.jobs.actions.lengths import typed_length, typed_place
from shopflow.jobs.actions.locked import job_off_the_floor
from shopflow.jobs.actions.numbering import renumber_setups, renumber_steps
from shopflow.jobs.actions.operations import fill_operations, retime_by_hand, retime_step
from shopflow.jobs.actions.stock import refresh_blanks
from shopflow.jobs.models import Job, JobFile, PlanApproval, Setup, Step
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes
from shopflow.shop.models import Machine

HUNDREDTH = Decimal("0.01")
ZERO = ("zero_x", "zero_y", "zero_z")
"""Typed one, typed all: a point is not proposed in part."""
ANGLES = ("tilt_x", "tilt_y", "turn_z")
FROM_ANGLES = frozenset({
    *ZERO, "title", "along_x", "workholding", "grip", "pick_up_by", "pick_up", "fixed_jaw", "stop_side", "located_on",
    "datums",
})  # fmt: skip
"""What is proposed for a tilted clamping only as long as it stands as proposed."""


@transaction.atomic
def propose_plan(job: Job, *, by: User) -> Proposal:
    """Propose the plan, for the first time or again; what a person typed, added or took out stays as it is.

    Without a model it lays out the usual steps for a person to fill in.
    """
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    proposal = queries.proposal_of(now, units=by.units)
    if proposal is None:
        if not now.no_model_reason:
            raise NotPossible(queries.why_not_planned(now))
        proposal = bare_routing()
    setups = _lay_out_setups(now, proposal, units=by.units)
    _lay_out_steps(now, proposal, setups)
    for setup in setups.values():
        retime_step(setup)
    retime_by_hand(now)
    refresh_blanks(now, proposal, units=by.units)
    ledger.append(
        "plan_proposed", chain=now.chain, subject=("job", now.pk), by=by, setups=len(setups), steps=now.steps.count()
    )
    changes.announce(by=by, jobs=[now.pk])
    return proposal


@transaction.atomic
def approve_plan(job: Job, *, by: User, seen: str) -> PlanApproval:
    """Approve the plan exactly as it was seen; seen: its hash on the page that the person looked at."""
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    plan_hash = queries.plan_hash(now)
    if seen != plan_hash:
        raise NotPossible(_("The plan was changed while you looked at it. Look at it again before you approve it."))
    if not now.steps.exists():
        raise NotPossible(_("There is no step to approve yet. Propose the plan, or add steps."))
    if unplaced := queries.setups_without_zero(now):
        numbers = ", ".join(str(setup.number) for setup in unplaced)
        raise NotPossible(_("Say where on the model the part zero is first: setup %s lacks it.") % numbers)
    approval = PlanApproval.objects.create(job=now, plan_hash=plan_hash, approved_by=by)
    ledger.append("plan_approved", chain=now.chain, subject=("job", now.pk), by=by, plan=plan_hash)
    return approval


@transaction.atomic
def bring_back(job: Job, *, by: User) -> Job:
    """Let everything that a person took out of the plan be proposed again."""
    require(by, Act.PLAN)
    now = job_off_the_floor(job)
    if now.left_out:
        now.left_out = []
        now.save(update_fields=["left_out"])
        ledger.append("left_out_forgotten", chain=now.chain, subject=("job", now.pk), by=by)
    return now


def _lay_out_setups(job: Job, proposal: Proposal, *, units: str) -> dict[int, Setup]:
    """Rows for the proposed setups by their number there; setups that only an older proposal knew go away."""
    free = queries.setups_of(job)
    known = queries.laid_out(proposal, free)
    laid_out: dict[int, Setup] = {}
    for wanted in proposal.setups:
        if left_out_key(wanted.key) not in job.left_out:
            laid_out[wanted.number] = known.get(wanted.number) or Setup(job=job, up=wanted.up)
    used = {id(row) for row in laid_out.values()}
    free = [row for row in free if id(row) not in used]
    for setup in free:
        if not _is_touched(setup):
            setup.delete()
    kept = [setup for setup in free if setup.pk]
    renumber_setups([*laid_out.values(), *kept])
    for wanted in proposal.setups:
        if wanted.number == 1 and wanted.number in laid_out:
            _begin_with(laid_out[1], queries.blank_to_plan(job))
        if wanted.number in laid_out:
            _fill_setup(job, laid_out[wanted.number], wanted, units=units)
    return laid_out


def _begin_with(first: Setup, blank: JobFile | None) -> None:
    """A casting that was sent is what the first setup begins with, unless a person said otherwise."""
    if "blank_file" not in first.fixed:
        first.blank_file = blank


def left_out_key(clamping: str) -> str:
    """How a setup that a person took out is remembered."""
    return f"setup {clamping}"


def _is_touched(setup: Setup) -> bool:
    """Whether a person had a hand in it: fields typed, a touch asked for, a program brought for it."""
    return bool(setup.fixed) or bool(setup.touches.all()) or setup.programs.exists()


def _fill_setup(job: Job, setup: Setup, wanted: SetupProposal, *, units: str) -> None:
    held = wanted.holding
    proposed: dict[str, object] = {
        "title": wanted.title,
        "machine": Machine.objects.filter(name=wanted.machine.name).first() if wanted.machine else None,
        "workholding": held.workholding,
        "grip": typed_length(held.grip_mm, units) if held.grip_mm is not None else None,
        "work_offset": held.work_offset,
        "pick_up_by": held.pick_up_by,
        "pick_up": held.pick_up,
        "stock_in": held.stock_in,
        "fixed_jaw": wanted.locating.fixed_jaw,
        "stop_side": wanted.locating.stop_side,
        "located_on": wanted.locating.located_on,
        "datums": wanted.locating.datums,
    }
    if wanted.stock:
        sizes = (typed_length(size, units) for size in (*wanted.stock.size_mm, wanted.stock.over_mm))
        proposed |= dict(zip(("blank_x", "blank_y", "blank_z", "blank_over"), sizes, strict=True))
    if held.zero_mm:
        proposed |= {"along_x": held.along_x, "zero_point": ""}
    if held.zero_mm and not set(ZERO).intersection(setup.fixed):
        proposed |= dict(zip(ZERO, (typed_place(at, units) for at in held.zero_mm), strict=True))
    if wanted.tilted:
        proposed = {"slant": wanted.key} | _as_it_stands(setup, wanted, proposed)
    for name, value in proposed.items():
        if name not in setup.fixed:
            setattr(setup, name, value)
    setup.save()
    setup.job = job
    fill_operations(setup, wanted.operations, units=units)


def _as_it_stands(setup: Setup, wanted: SetupProposal, proposed: dict[str, object]) -> dict[str, object]:
    """With the angles; where a person typed another way to stand, nothing that follows from the angles."""
    angles = dict(zip(ANGLES, (Decimal(f"{angle:.4f}") for angle in wanted.angles), strict=True))
    stand = {"up": wanted.up, "along_x": wanted.holding.along_x, **angles}
    typed = set(stand) & set(setup.fixed)
    if any(getattr(setup, name) != stand[name] for name in typed):
        return {name: value for name, value in proposed.items() if name not in FROM_ANGLES}
    return proposed | stand


def _lay_out_steps(job: Job, proposal: Proposal, setups: dict[int, Setup]) -> None:
    """Each proposed step keeps the place a person gave it; a new one comes right after the one proposed before it."""
    order = list(job.steps.select_related("setup"))
    before: Step | None = None
    for wanted in proposal.steps:
        is_left_out = wanted.setup not in setups if wanted.setup else str(wanted.kind) in job.left_out
        if is_left_out:
            continue
        step = _find_step(order, wanted, setups)
        if step is None:
            step = Step(job=job, kind=str(wanted.kind), setup=setups[wanted.setup] if wanted.setup else None)
            order.insert(order.index(before) + 1 if before else 0, step)
        _fill_step(step, wanted)
        before = step
    if StepKind.SAW not in [wanted.kind for wanted in proposal.steps]:
        order = [step for step in order if not _is_idle_saw(step)]
    renumber_steps(order)
    for step in order:
        step.save()


def _is_idle_saw(step: Step) -> bool:
    """A saw's step that nobody touched goes where the blank is not sawn."""
    is_idle = step.kind == Step.Kind.SAW and step.pk is not None and not step.fixed
    if is_idle:
        step.delete()
    return is_idle


def _find_step(order: Sequence[Step], wanted: StepProposal, setups: dict[int, Setup]) -> Step | None:
    if wanted.setup:
        return next((step for step in order if step.setup_id and step.setup_id == setups[wanted.setup].pk), None)
    return next((step for step in order if step.kind == str(wanted.kind) and not step.setup_id), None)


def _fill_step(step: Step, wanted: StepProposal) -> None:
    proposed: dict[str, object] = {
        "title": wanted.title,
        "minutes_each": _minutes(wanted.minutes_each),
        "minutes_setup": _minutes(wanted.minutes_setup),
        "first_piece": wanted.first_piece,
    }
    for name, value in proposed.items():
        if name not in step.fixed:
            setattr(step, name, value)


def _minutes(value: float | None) -> Decimal | None:
    return None if value is None else Decimal(str(value)).quantize(HUNDREDTH)
