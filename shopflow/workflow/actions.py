"""Moving a job from stage to stage. Nothing else assigns `stage` (a test looks for it)."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.floor import actions as floor
from shopflow.floor.actions import NotNow
from shopflow.floor.models import Lot, Packet, Remark, Shipment
from shopflow.jobs.models import Job, Stage
from shopflow.papers import actions as papers
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.records.models import LedgerRow
from shopflow.workflow import queries
from shopflow.workflow.gates import GATES, GateClosed, ship_problems, unmet
from shopflow.workflow.packets import content_hash

NEXT: dict[str, Stage] = {
    Stage.INTAKE: Stage.PLAN,
    Stage.PLAN: Stage.REVIEW,
    Stage.REVIEW: Stage.RELEASE,
    Stage.RELEASE: Stage.FLOOR,
    Stage.FLOOR: Stage.CLOSED,
}

LEAVING: dict[str, Act] = {
    Stage.INTAKE: Act.EDIT_JOB,
    Stage.PLAN: Act.PLAN,
    Stage.REVIEW: Act.UPLOAD_PROGRAM,
    Stage.RELEASE: Act.RELEASE,
    Stage.FLOOR: Act.SHIP,
}
"""Who may take a job out of a stage."""


@transaction.atomic
def advance(job: Job, *, by: User, why_short: str = "") -> Job:
    """Move the job to its next stage, or raise GateClosed with the unmet conditions. Leaving release makes the lot.

    why_short: needed to close a job that ships fewer pieces than were ordered.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    if job.stage not in NEXT:
        raise NotNow(_("Job %(job)s is closed.") % {"job": job})
    require(by, LEAVING[job.stage])
    if job.held_reason:
        raise NotNow(_("Job %(job)s is held: %(why)s. Resume it first.") % {"job": job, "why": job.held_reason})
    missing = unmet(GATES[job.stage](job))
    if missing:
        raise GateClosed(missing)
    before, after = job.stage, NEXT[job.stage]
    if after == Stage.FLOOR:
        floor.put_on_floor(job, by=by)
    if after == Stage.CLOSED:
        _close(job, why_short.strip(), by=by)
    ledger.append("advanced", chain=job.chain, subject=("job", job.pk), by=by, before=before, after=after)
    job.stage = after
    job.save(update_fields=["stage"])
    return job


def _close(job: Job, why_short: str, *, by: User) -> None:
    """Write down where every piece went; fewer than ordered takes a reason."""
    balance: dict[str, Any] = dict(queries.balance(job))
    short = balance["short"]
    if short and not why_short:
        raise NotNow(_("%(short)s pieces fewer than ordered are shipped. Say why it stays so.") % {"short": short})
    row = ledger.append("pieces_agreed", chain=job.chain, subject=("job", job.pk), by=by, **balance)
    if short:
        Remark.objects.create(row=row, text=why_short[:500])


@transaction.atomic
def hold(job: Job, *, reason: str, by: User) -> Job:
    """Stop everything about the job where it stands; a run that is open is not locked out, but counts nothing new."""
    require(by, Act.HOLD)
    if not reason.strip():
        raise NotNow(_("Say why the job is held."))
    job.held_reason = reason.strip()
    job.save(update_fields=["held_reason"])
    ledger.append("job_held", chain=job.chain, subject=("job", job.pk), by=by, stage=job.stage)
    return job


@transaction.atomic
def resume(job: Job, *, by: User) -> Job:
    """Let a held job go on where it stood."""
    require(by, Act.HOLD)
    job.held_reason = ""
    job.save(update_fields=["held_reason"])
    ledger.append("job_resumed", chain=job.chain, subject=("job", job.pk), by=by, stage=job.stage)
    return job


@transaction.atomic
def print_packet(job: Job, *, by: User) -> Packet:
    """Make the floor copies and have the traveler printed; refused while an earlier stage's gate is open again."""
    require(by, Act.RELEASE)
    job = Job.objects.select_for_update().get(pk=job.pk)
    if job.stage not in (Stage.RELEASE, Stage.FLOOR):
        raise NotNow(_("Job %(job)s has not reached release yet.") % {"job": job})
    missing = [c for stage in (Stage.INTAKE, Stage.PLAN, Stage.REVIEW) for c in unmet(GATES[stage](job))]
    if missing:
        raise GateClosed(missing)
    packet = floor.make_packet(job, by=by, content_hash=content_hash(job))
    papers.ask_traveler(packet)
    return packet


@transaction.atomic
def ship(job: Job, lot: Lot, quantity: int, *, by: User, note: str = "", key: str | None = None) -> Shipment:
    """Ship accepted pieces with their papers: packing slip and certificate are printed, in the name of who ships."""
    require(by, Act.SHIP)
    ledger.lock(job.chain)
    earlier = ledger.find(key) if key else None
    problems = [] if earlier else ship_problems(job, lot)
    if problems:
        raise NotNow(" ".join(problems))
    shipment = floor.ship(lot, quantity, by=by, note=note, key=key)
    papers.ask_with_shipment(shipment, by=by)
    return shipment


@transaction.atomic
def take_back(shipment: Shipment, quantity: int, *, reason: str, by: User, key: str | None = None) -> LedgerRow:
    """The customer sent pieces back: they are held at the last step, and the job is not closed until it is decided."""
    require(by, Act.SHIP)
    if not shipment.job.is_open:
        raise NotNow(_("Job %(job)s is closed. Take the pieces in as a job of their own.") % {"job": shipment.job})
    if not reason.strip():
        raise NotNow(_("Say why, in a few words."))
    return floor.take_back(shipment.lot, quantity, reason=reason.strip(), by=by, key=key)
