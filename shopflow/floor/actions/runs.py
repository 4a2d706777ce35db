"""An op is run: started, its first piece accepted, its edges signed, its pieces counted good, finished."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.floor import as_run, queries, reported, timing, tool_use
from shopflow.floor.actions.reports import NotNow, act_for, positive, refuse_when_held, report
from shopflow.floor.actions.setting_up import end_setting_up
from shopflow.floor.models import Lot, OpRun
from shopflow.floor.moving import at, move
from shopflow.jobs import actions as jobs
from shopflow.jobs.models import Step
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records.models import LedgerRow
from shopflow.shop.models import Machine

SETUP_CHECKS = {
    "tools": gettext_lazy("tools and offsets are set"),
    "clamping": gettext_lazy("stock and clamping are as drawn"),
    "cautions": gettext_lazy("the cautions on the setup sheet are read"),
}
"""What a machinist confirms before a setup runs, by the key that the ledger keeps."""


@transaction.atomic
def start(
    lot: Lot,
    step: Step,
    *,
    by: User,
    machine: Machine | None = None,
    compared: str = "",
    confirmed: Collection[str] = (),
    key: str | None = None,
) -> OpRun:
    """Start an op. A milling op with a program needs `compared`: how the machine's program was found to be the copy.

    confirmed: the keys of SETUP_CHECKS that the machinist ticked; a setup needs all of them.
    The sign-off is checked again here; a run that is already open is never stopped by a lapse.
    """
    require(by, act_for(step))
    row = report(
        "op_started", lot, by=by, key=key, op=step.op_number, step=step.pk, confirmed=sorted(confirmed), text=compared
    )
    if row.repeated:
        return queries.open_run(lot, step) or OpRun.objects.filter(lot=lot, step=step).latest("pk")
    refuse_when_held(lot.job)
    if queries.open_run(lot, step):
        raise NotNow(_("Op %(op)s of this lot is already started.") % {"op": step.op_number})
    if not queries.standing_at(lot, step):
        raise NotNow(_("No piece of this lot stands at op %(op)s yet.") % {"op": step.op_number})
    problem = queries.start_problem(lot.job, step, lot)
    if problem:
        raise NotNow(problem)
    _refuse_unready(step, compared, confirmed)
    run = OpRun.objects.create(
        lot=lot, step=step, machine=machine, started_at=reported.moment(), started_by=by, program_compared=compared
    )
    end_setting_up(run)
    return run


def _refuse_unready(step: Step, compared: str, confirmed: Collection[str]) -> None:
    if queries.floor_copy_of(step) and not compared:
        raise NotNow(_("Compare the program on the machine with the floor copy first, and say how you did."))
    missing = [str(words) for check, words in SETUP_CHECKS.items() if step.setup_id and check not in confirmed]
    if missing:
        raise NotNow(_("Confirm before the start: %(missing)s.") % {"missing": "; ".join(missing)})


@transaction.atomic
def accept_first_piece(run: OpRun, *, by: User, note: str = "", key: str | None = None) -> OpRun:
    """The first piece of this op was measured and is good: the rest of the lot may follow."""
    require(by, Act.MEASURE)
    row = report("first_piece_accepted", run.lot, by=by, key=key, op=run.step.op_number, text=note)
    if not row.repeated:
        run.first_piece_at, run.first_piece_by = reported.moment(not_before=run.started_at), by
        run.save(update_fields=["first_piece_at", "first_piece_by"])
    return run


@transaction.atomic
def sign_edges(run: OpRun, *, by: User, exceptions: str = "", key: str | None = None) -> OpRun:
    """The edge sheet, once for the lot: all its edges are broken but for the exceptions named."""
    require(by, Act.MEASURE)
    row = report("edges_signed", run.lot, by=by, key=key, op=run.step.op_number, text=exceptions)
    if not row.repeated:
        run.edges_signed_at, run.edges_signed_by = reported.moment(not_before=run.started_at), by
        run.save(update_fields=["edges_signed_at", "edges_signed_by"])
    return run


@transaction.atomic
def count_good(run: OpRun, quantity: int, *, by: User, key: str | None = None, is_inspected: bool = False) -> LedgerRow:
    """Pieces done at this op; they stand at the next step from now on.

    is_inspected: only inspection.actions says so, after it has looked at the measurements.
    """
    require(by, act_for(run.step))
    positive(quantity)
    row = report("counted_good", run.lot, by=by, key=key, op=run.step.op_number, quantity=quantity)
    if row.repeated:
        return row
    refuse_when_held(run.lot.job)
    problem = queries.count_problem(run, is_inspected=is_inspected)
    if not problem and quantity >= queries.standing_at(run.lot, run.step):
        problem = as_run.problem(run.lot, run.step)
    if problem:
        raise NotNow(problem)
    following = queries.next_step(run.step)
    if following is None:
        raise NotNow(_("Op %(op)s is the last one: ship the pieces instead.") % {"op": run.step.op_number})
    move(run.lot, quantity, at(run.step), at(following))
    tool_use.note(run.lot, run.step, quantity, by=by)
    return row


@transaction.atomic
def finish(run: OpRun, *, by: User, key: str | None = None) -> OpRun:
    """The op is no longer being worked on; pieces not counted stay where they are."""
    require(by, act_for(run.step))
    row = report("op_finished", run.lot, by=by, key=key, op=run.step.op_number)
    if not row.repeated and run.is_open:
        run.finished_at, run.finished_by = reported.moment(not_before=run.started_at), by
        run.save(update_fields=["finished_at", "finished_by"])
        _note_time(run)
    return run


def _note_time(run: OpRun) -> None:
    """What the pieces took, for the next plan on this machine in this material."""
    if taken := timing.minutes_each(run):
        minutes, pieces = taken
        machine = run.machine or (run.step.setup.machine if run.step.setup else None)
        jobs.note_time_taken(run.step, lot=run.lot.number, machine=machine, minutes_each=minutes, pieces=pieces)
