"""What stands where, and what may start."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet, Sum
from django.utils.translation import gettext as _

from shopflow.floor import read_backs
from shopflow.floor.models import FloorCopy, Lot, OpRun, Packet, Place, SettingUp, Standing
from shopflow.jobs.models import Job, Stage, Step
from shopflow.programs import queries as program_queries


def packet_of(job: Job) -> Packet | None:
    """The newest packet; older ones are superseded."""
    return job.packets.order_by("-number").first()


def open_run(lot: Lot, step: Step) -> OpRun | None:
    """The run that is open on an op; it carries the lot and the step asked for, so that neither is read again."""
    run = OpRun.objects.filter(lot=lot, step=step, finished_at__isnull=True).first()
    if run is not None:
        run.lot, run.step = lot, step
    return run


def standing_at(lot: Lot, step: Step) -> int:
    found = Standing.objects.filter(lot=lot, step=step, place=Place.STEP).aggregate(sum=Sum("quantity"))
    return found["sum"] or 0


def standing_up_to(lot: Lot, step: Step) -> int:
    """Pieces at this op and those before it: what is still to be made here."""
    rows = Standing.objects.filter(lot=lot, place=Place.STEP, step__op_number__lte=step.op_number)
    return rows.aggregate(sum=Sum("quantity"))["sum"] or 0


def setting_up(lot: Lot, step: Step) -> SettingUp | None:
    """The set-up of an op that was begun and whose op has not started since."""
    return SettingUp.objects.filter(lot=lot, step=step, run=None).select_related("begun_by", "machine").first()


def next_step(step: Step) -> Step | None:
    return Step.objects.filter(job=step.job_id, op_number__gt=step.op_number).order_by("op_number").first()


def floor_copy_of(step: Step) -> FloorCopy | None:
    """The floor copy that a milling step runs over the lot, from the newest packet."""
    return _copy_of(step, FloorCopy.Use.LOT)


def prove_out_copy_of(step: Step) -> FloorCopy | None:
    """The copy with optional stops for the first piece, where the newest packet has one."""
    copy = _copy_of(step, FloorCopy.Use.PROVE_OUT)
    newest = packet_of(step.job)
    return copy if copy and newest and copy.packet_id == newest.pk else None


def _copy_of(step: Step, use: str) -> FloorCopy | None:
    if step.setup_id is None:
        return None
    return (
        FloorCopy.objects.filter(packet__job=step.job_id, revision__program__setups=step.setup_id, use=use)
        .select_related("stored", "revision__program", "sign_off")
        .order_by("-packet__number")
        .first()
    )


def start_problem(job: Job, step: Step, lot: Lot | None = None, *, seen: program_queries.Reviewed | None = None) -> str:
    """Why this op may not start, apart from where its pieces stand; empty when it may. lot: asks its read-backs too.
    seen: the revision on the floor, where it was gathered already."""
    if job.stage != Stage.FLOOR:
        return _("Job %(job)s is not released.") % {"job": job}
    copy = floor_copy_of(step)
    if copy is None:
        return ""
    lapse = lapse_of(copy, seen=seen)
    if not lapse:
        return read_backs.problem(lot, step) if lot else ""
    return _("%(lapse)s Have it reviewed and release again.") % {"lapse": lapse}


def lapse_of(copy: FloorCopy, *, seen: program_queries.Reviewed | None = None) -> str:
    """That the sign-off of a floor copy no longer holds, and why; "" while it does. seen: its revision."""
    standing = program_queries.standing_of(seen or program_queries.Reviewed(copy.revision))
    if standing.valid:
        return ""
    return _("The sign-off of %(program)s no longer holds. %(why)s") % {"program": copy.name, "why": standing.reason}


def lapsed_runs(job: Job) -> list[tuple[OpRun, str]]:
    """Open runs of the job whose program's sign-off does not hold any more, each with why. A cycle is never stopped."""
    runs = OpRun.objects.filter(lot__job=job, finished_at__isnull=True, step__setup__isnull=False)
    found = [(run, floor_copy_of(run.step)) for run in runs.select_related("lot", "step")]
    told = [(run, lapse_of(copy)) for run, copy in found if copy]
    return [(run, lapse) for run, lapse in told if lapse]


def count_problem(run: OpRun, *, is_inspected: bool = False) -> str:
    """Why no piece of this run may be counted good now; empty when it may."""
    op = {"op": run.step.op_number}
    if not run.is_open:
        return _("Op %(op)s of this lot is finished. Start it again to count more.") % op
    if run.step.first_piece and run.first_piece_at is None:
        return _("The first piece of op %(op)s is not accepted yet. Have it measured first.") % op
    if run.step.kind == Step.Kind.DEBURR and not edge_sheet(run.lot, run.step):
        return _("The edge sheet of op %(op)s is not signed yet.") % op
    if run.step.kind == Step.Kind.INSPECT and not is_inspected:
        return _("Pieces leave op %(op)s from the inspection bench.") % op
    return read_backs.problem(run.lot, run.step, run)


def edge_sheet(lot: Lot, step: Step, *, before: datetime | None = None) -> OpRun | None:
    """The run in which the edge sheet of this op was signed for the lot: once, however often the op is started again.

    A sheet that was signed before the lot was split off holds for it too, up to the op at which its pieces stood then;
    at later ops they were not there to be deburred. before: the last moment that counts.
    """
    signed = OpRun.objects.filter(lot=lot, step=step, edges_signed_at__isnull=False)
    if before is not None:
        signed = signed.filter(edges_signed_at__lte=before)
    found = signed.select_related("lot", "edges_signed_by").order_by("edges_signed_at").first()
    if found or lot.parent is None or lot.split_at is None or lot.split_step is None:
        return found
    if step.op_number > lot.split_step.op_number:
        return None
    return edge_sheet(lot.parent, step, before=lot.split_at)


@dataclass(frozen=True)
class Waiting:
    """Pieces of a lot that stand at a step, and the run that is open on them or is being set up for."""

    lot: Lot
    step: Step
    quantity: int
    run: OpRun | None
    is_being_set_up: bool = False


def waiting(steps: Q) -> list[Waiting]:
    """What stands at the steps that match, due soonest first."""
    standings = (
        Standing.objects.filter(steps, place=Place.STEP, quantity__gt=0, lot__job__stage=Stage.FLOOR)
        .select_related("lot__job__revision__part__customer", "step__setup__machine", "lot__job__material")
        .order_by("lot__job__due_on", "lot__job__number", "step__op_number")
    )
    runs = {
        (run.lot_id, run.step_id): run
        for run in OpRun.objects.filter(finished_at__isnull=True, lot__in={s.lot_id for s in standings})
    }
    begun = set(SettingUp.objects.filter(run=None, lot__in={s.lot_id for s in standings}).values_list("lot", "step"))
    return [
        Waiting(s.lot, s.step, s.quantity, runs.get((s.lot_id, s.step_id)), (s.lot_id, s.step_id) in begun)
        for s in standings
    ]


def lots_at(step: Step) -> list[Lot]:
    """The lots with pieces at a step."""
    return list(Lot.objects.filter(standings__step=step, standings__place=Place.STEP, standings__quantity__gt=0))


def aside_at(lot: Lot, step: Step) -> list[Standing]:
    """Pieces of the lot held, outside, scrapped or lost at this step."""
    return list(Standing.objects.filter(lot=lot, step=step, quantity__gt=0).exclude(place=Place.STEP))


def tally(job: Job) -> dict[str, int]:
    """Pieces of a job by place, over all its lots."""
    rows = Standing.objects.filter(lot__job=job).values("place").annotate(sum=Sum("quantity"))
    found = {row["place"]: row["sum"] for row in rows}
    return {place: found.get(place, 0) for place in Place.values}


def made(job: Job) -> int:
    """Pieces that were released or counted in since, over all lots; splits only move them between lots."""
    sums = job.lots.aggregate(released=Sum("released"), added=Sum("added"), given=Sum("given"))
    return (sums["released"] or 0) + (sums["added"] or 0) - (sums["given"] or 0)


def standings_of(jobs: Iterable[Job]) -> dict[int, list[Standing]]:
    """Standings with pieces of many jobs in one query, by job id."""
    by_job: dict[int, list[Standing]] = defaultdict(list)
    rows = Standing.objects.filter(lot__job__in=jobs, quantity__gt=0).select_related("lot", "step")
    for standing in rows:
        by_job[standing.lot.job_id].append(standing)
    return by_job


def running_in(jobs: Iterable[Job]) -> dict[int, set[tuple[int, int]]]:
    """Open runs of many jobs in one query: (lot, step) ids by job id."""
    by_job: dict[int, set[tuple[int, int]]] = defaultdict(set)
    rows = OpRun.objects.filter(lot__job__in=jobs, finished_at__isnull=True).values_list("lot__job", "lot", "step")
    for job, lot, step in rows:
        by_job[job].add((lot, step))
    return by_job


def lots_of(job: Job) -> QuerySet[Lot]:
    return job.lots.order_by("number")
