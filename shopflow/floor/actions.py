"""Reports from the floor. Each is one transaction: the ledger row, then the pieces; a key sent twice counts once."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction
from django.db.models import F, Max
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.errors import CoreError
from shopflow.floor import as_run, queries, reported, timing
from shopflow.floor.models import FloorCopy, Lot, OpRun, Packet, Place, Remark, Shipment
from shopflow.floor.moving import NotThere, Spot, at, move, put, take
from shopflow.jobs import actions as jobs
from shopflow.jobs import queries as job_queries
from shopflow.jobs.models import Job, Step
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import actions as programs
from shopflow.programs import queries as program_queries
from shopflow.programs.models import ProgramRevision
from shopflow.records import files, ledger
from shopflow.records.models import LedgerRow
from shopflow.shop.models import Machine

__all__ = ["NotNow", "NotThere"]


SETUP_CHECKS = {
    "tools": gettext_lazy("tools and offsets are set"),
    "clamping": gettext_lazy("stock and clamping are as drawn"),
    "cautions": gettext_lazy("the cautions on the setup sheet are read"),
}
"""What a machinist confirms before a setup runs, by the key that the ledger keeps."""


class NotNow(CoreError):
    """The report does not fit where the lot stands; the text says why and what to do."""


def make_packet(job: Job, *, by: User, content_hash: str) -> Packet:
    """A new packet with the floor copies of all signed programs; the traveler is printed from it (papers)."""
    require(by, Act.RELEASE)
    with transaction.atomic():
        number = (job.packets.aggregate(last=Max("number"))["last"] or 0) + 1
        packet = Packet.objects.create(job=job, number=number, content_hash=content_hash, released_by=by)
        for program in job.programs.all():
            _add_floor_copy(packet, program_queries.newest(program), by=by)
        hashes = {copy.file_name: copy.stored.sha256 for copy in packet.floor_copies.select_related("stored")}
        ledger.append("packet_made", chain=job.chain, subject=("job", job.pk), by=by, number=number, copies=hashes)
    return packet


def _add_floor_copy(packet: Packet, revision: ProgramRevision | None, *, by: User) -> None:
    if revision is None:
        raise NotNow(_("A program of this job holds no upload yet. Upload it, or take the program away."))
    standing = program_queries.sign_off_standing(revision)
    if not standing.valid or standing.sign_off is None:
        raise NotNow(_("%(program)s is not signed off: %(why)s") % {"program": revision, "why": standing.reason})
    copies = {FloorCopy.Use.LOT: programs.floor_copy(revision, by=by)}
    if prove_out := programs.prove_out_copy(revision, by=by):
        copies[FloorCopy.Use.PROVE_OUT] = prove_out
    name = programs.copy_name(revision, by=by)
    for use, content in copies.items():
        stored = files.store(content, media_type="text/plain")
        FloorCopy.objects.create(
            packet=packet,
            revision=revision,
            sign_off=standing.sign_off,
            stored=stored,
            name=name,
            use=use,
        )


@transaction.atomic
def put_on_floor(job: Job, *, by: User) -> Lot:
    """All pieces ordered, at the first step of the routing: one lot, or one for each heat that they are made of, so
    that every piece's heat is known. Called by workflow.release alone; gives the first lot."""
    require(by, Act.RELEASE)
    first = job.steps.order_by("op_number").first()
    if first is None:
        raise NotNow(_("The routing has no steps. Add them on the plan page."))
    shares = job_queries.heat_shares(job)
    wanted = [(one.heat, one.pieces or 0) for one in shares] or [(job.heat_number, job.quantity)]
    return [_released(job, n, heat, pieces, first, by=by) for n, (heat, pieces) in enumerate(wanted, start=1)][0]


def _released(job: Job, number: int, heat: str, pieces: int, first: Step, *, by: User) -> Lot:
    lot = Lot.objects.create(job=job, number=number, heat_number=heat, released=pieces)
    put(lot, pieces, at(first))
    ledger.append("lot_released", chain=job.chain, subject=("lot", lot.pk), by=by, quantity=pieces)
    return lot


def _report(kind: str, lot: Lot, *, by: User, key: str | None, text: str = "", **payload: object) -> LedgerRow:
    """The ledger row of a report; what a person typed stands beside it, since the ledger itself can forget nothing."""
    said = payload | reported.payload()
    row = ledger.append(kind, chain=lot.job.chain, subject=("lot", lot.pk), by=by, key=key, **said)
    if text and not row.repeated:
        Remark.objects.create(row=row, text=text)
    return row


def _act_for(step: Step) -> Act:
    return Act.MEASURE if step.kind == Step.Kind.INSPECT else Act.RUN


def _refuse_when_held(job: Job) -> None:
    if job.held_reason:
        raise NotNow(
            _("Job %(job)s is held: %(why)s. Ask the lead to resume it.") % {"job": job, "why": job.held_reason}
        )


def _positive(quantity: int) -> None:
    if quantity < 1:
        raise NotNow(_("Report at least one piece."))


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
    require(by, _act_for(step))
    row = _report(
        "op_started", lot, by=by, key=key, op=step.op_number, step=step.pk, confirmed=sorted(confirmed), text=compared
    )
    if row.repeated:
        return queries.open_run(lot, step) or OpRun.objects.filter(lot=lot, step=step).latest("pk")
    _refuse_when_held(lot.job)
    if queries.open_run(lot, step):
        raise NotNow(_("Op %(op)s of this lot is already started.") % {"op": step.op_number})
    if not queries.standing_at(lot, step):
        raise NotNow(_("No piece of this lot stands at op %(op)s yet.") % {"op": step.op_number})
    problem = queries.start_problem(lot.job, step, lot)
    if problem:
        raise NotNow(problem)
    _refuse_unready(step, compared, confirmed)
    return OpRun.objects.create(
        lot=lot, step=step, machine=machine, started_at=reported.moment(), started_by=by, program_compared=compared
    )


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
    row = _report("first_piece_accepted", run.lot, by=by, key=key, op=run.step.op_number, text=note)
    if not row.repeated:
        run.first_piece_at, run.first_piece_by = reported.moment(not_before=run.started_at), by
        run.save(update_fields=["first_piece_at", "first_piece_by"])
    return run


@transaction.atomic
def sign_edges(run: OpRun, *, by: User, exceptions: str = "", key: str | None = None) -> OpRun:
    """The edge sheet, once for the lot: all its edges are broken but for the exceptions named."""
    require(by, Act.MEASURE)
    row = _report("edges_signed", run.lot, by=by, key=key, op=run.step.op_number, text=exceptions)
    if not row.repeated:
        run.edges_signed_at, run.edges_signed_by = reported.moment(not_before=run.started_at), by
        run.save(update_fields=["edges_signed_at", "edges_signed_by"])
    return run


@transaction.atomic
def count_good(run: OpRun, quantity: int, *, by: User, key: str | None = None, is_inspected: bool = False) -> LedgerRow:
    """Pieces done at this op; they stand at the next step from now on.

    is_inspected: only inspection.actions says so, after it has looked at the measurements.
    """
    require(by, _act_for(run.step))
    _positive(quantity)
    row = _report("counted_good", run.lot, by=by, key=key, op=run.step.op_number, quantity=quantity)
    if row.repeated:
        return row
    _refuse_when_held(run.lot.job)
    problem = queries.count_problem(run, is_inspected=is_inspected)
    if not problem and quantity >= queries.standing_at(run.lot, run.step):
        problem = as_run.problem(run.lot, run.step)
    if problem:
        raise NotNow(problem)
    following = queries.next_step(run.step)
    if following is None:
        raise NotNow(_("Op %(op)s is the last one: ship the pieces instead.") % {"op": run.step.op_number})
    move(run.lot, quantity, at(run.step), at(following))
    return row


@transaction.atomic
def finish(run: OpRun, *, by: User, key: str | None = None) -> OpRun:
    """The op is no longer being worked on; pieces not counted stay where they are."""
    require(by, _act_for(run.step))
    row = _report("op_finished", run.lot, by=by, key=key, op=run.step.op_number)
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


def scrap(
    lot: Lot, step: Step, quantity: int, *, reason: str, by: User, key: str | None = None, cause: str = ""
) -> LedgerRow:
    """Pieces that will never ship; they stay counted as scrapped at this step. cause: "program" where it was that."""
    told = {"cause": cause} if cause else {}
    return _move_aside("pieces_scrapped", lot, step, quantity, Place.SCRAPPED, reason=reason, by=by, key=key, **told)


def hold(lot: Lot, step: Step, quantity: int, *, reason: str, by: User, key: str | None = None) -> LedgerRow:
    """Set pieces aside at this step until somebody decides."""
    return _move_aside("pieces_held", lot, step, quantity, Place.HELD, reason=reason, by=by, key=key)


def lose(lot: Lot, step: Step, quantity: int, *, reason: str, by: User, key: str | None = None) -> LedgerRow:
    """A miscount downwards: pieces that are not there, and never will be found."""
    return _move_aside("miscount_fewer", lot, step, quantity, Place.LOST, reason=reason, by=by, key=key)


def send_outside(lot: Lot, step: Step, quantity: int, *, reason: str, by: User, key: str | None = None) -> LedgerRow:
    """Pieces at another firm for this step: plating, heat treatment."""
    return _move_aside("sent_outside", lot, step, quantity, Place.OUTSIDE, reason=reason, by=by, key=key)


@transaction.atomic
def _move_aside(
    kind: str,
    lot: Lot,
    step: Step,
    quantity: int,
    place: Place,
    *,
    reason: str,
    by: User,
    key: str | None,
    **payload: str,
) -> LedgerRow:
    require(by, Act.MEASURE)  # whoever runs or measures may set pieces aside
    _positive(quantity)
    if not reason.strip():
        raise NotNow(_("Say why, in a few words."))
    row = _report(kind, lot, by=by, key=key, op=step.op_number, step=step.pk, quantity=quantity, text=reason, **payload)
    if not row.repeated:
        move(lot, quantity, at(step), Spot(place, step))
    return row


@transaction.atomic
def bring_back(
    lot: Lot, step: Step, quantity: int, place: Place, *, by: User, reason: str = "", key: str | None = None
) -> LedgerRow:
    """Held, outside, lost or scrapped pieces stand at their step again: resumed, returned, found."""
    require(by, Act.MEASURE)
    _positive(quantity)
    if place == Place.SHIPPED:
        raise NotNow(_("Shipped pieces come back through a return."))
    row = _report(
        "brought_back", lot, by=by, key=key, op=step.op_number, quantity=quantity, place=place.value, text=reason
    )
    if not row.repeated:
        move(lot, quantity, Spot(place, step), at(step))
    return row


@transaction.atomic
def rework(
    lot: Lot, step: Step, back_to: Step, quantity: int, *, reason: str, by: User, key: str | None = None
) -> LedgerRow:
    """Pieces go back to an earlier op."""
    require(by, Act.MEASURE)
    _positive(quantity)
    if back_to.op_number >= step.op_number or back_to.job_id != step.job_id:
        raise NotNow(_("Rework goes back to an earlier op of the same routing."))
    row = _report(
        "rework", lot, by=by, key=key, op=step.op_number, back_to=back_to.op_number, quantity=quantity, text=reason
    )
    if not row.repeated:
        move(lot, quantity, at(step), at(back_to))
    return row


@transaction.atomic
def add(lot: Lot, step: Step, quantity: int, *, reason: str, by: User, key: str | None = None) -> LedgerRow:
    """A miscount upwards, or a spare made: pieces that were not counted in before."""
    require(by, Act.RUN)
    _positive(quantity)
    row = _report("miscount_more", lot, by=by, key=key, op=step.op_number, quantity=quantity, text=reason)
    if not row.repeated:
        Lot.objects.filter(pk=lot.pk).update(added=F("added") + quantity)
        put(lot, quantity, at(step))
    return row


@transaction.atomic
def split(lot: Lot, step: Step, quantity: int, *, by: User, key: str | None = None, heat: str = "") -> Lot:
    """Some pieces standing at a step become a lot of their own and go on alone.

    heat: of the pieces that go, where the lot is of several; those that stay are then of the others.
    Edge sheets signed up to here hold for them too (queries.edge_sheet). Whether a piece with a nonconformance is among
    them is asked at the bench (inspection.queries.unplaced).
    """
    require(by, Act.RUN)
    _positive(quantity)
    ledger.lock(lot.job.chain)
    earlier = ledger.find(key) if key else None
    if earlier and earlier.kind == "lot_split" and "part" not in earlier.data:  # from before splits named their lot
        return Lot.objects.filter(parent=lot).latest("pk")
    newest = lot.job.lots.aggregate(last=Max("number"))["last"] or 0
    number = earlier.data.get("part", 0) if earlier else newest + 1
    apart = {"heat": heat} if heat else {}
    row = _report("lot_split", lot, by=by, key=key, op=step.op_number, quantity=quantity, part=number, **apart)
    if row.repeated:
        return Lot.objects.get(job=lot.job_id, number=number)
    take(lot, quantity, at(step))
    Lot.objects.filter(pk=lot.pk).update(given=F("given") + quantity)
    part = Lot.objects.create(
        job=lot.job, number=number, parent=lot, heat_number=heat or lot.heat_number, released=quantity,
        split_at=reported.moment(), split_step=step,
    )  # fmt: skip
    put(part, quantity, at(step))
    if heat:
        _keep_other_heats(lot, heat)
    return part


def _keep_other_heats(lot: Lot, gone: str) -> None:
    others = [one.heat for one in lot.heats if one.heat != gone]
    if len(others) == len(lot.heats) or not others:
        raise NotNow(_("Lot %(lot)s is not of heat %(heat)s and others.") % {"lot": lot.number, "heat": gone})
    Lot.objects.filter(pk=lot.pk).update(heat_number=", ".join(others))


@transaction.atomic
def ship(lot: Lot, quantity: int, *, by: User, note: str = "", key: str | None = None) -> Shipment:
    """Pieces standing at the ship step leave for the customer; the gate is workflow's."""
    require(by, Act.SHIP)
    _positive(quantity)
    row = _report("shipped", lot, by=by, key=key, quantity=quantity, text=note)
    if row.repeated:
        return lot.shipments.latest("pk")
    last = lot.job.steps.order_by("-op_number")[0]
    move(lot, quantity, at(last), Spot(Place.SHIPPED, last))
    number = (lot.job.shipments.aggregate(last=Max("number"))["last"] or 0) + 1
    return Shipment.objects.create(job=lot.job, number=number, lot=lot, quantity=quantity, note=note, shipped_by=by)


@transaction.atomic
def take_back(lot: Lot, quantity: int, *, reason: str, by: User, key: str | None = None) -> LedgerRow:
    """The customer returned pieces; they are held at the last step until somebody decides."""
    require(by, Act.SHIP)
    _positive(quantity)
    row = _report("returned", lot, by=by, key=key, quantity=quantity, text=reason)
    if not row.repeated:
        last = lot.job.steps.order_by("-op_number")[0]
        move(lot, quantity, Spot(Place.SHIPPED, last), Spot(Place.HELD, last))
    return row


@transaction.atomic
def note(lot: Lot, step: Step, text: str, *, by: User, key: str | None = None) -> LedgerRow:
    """A remark from the floor, kept in the history."""
    require(by, Act.MEASURE)
    return _report("note", lot, by=by, key=key, op=step.op_number, text=text)
