"""Pieces that leave the way or come back to it, that turn up or go missing, and lots that are split; remarks."""

from __future__ import annotations

from django.db import transaction
from django.db.models import F, Max
from django.utils.translation import gettext as _

from shopflow.floor import reported, tool_use
from shopflow.floor.actions.reports import NotNow, positive, report
from shopflow.floor.models import Lot, Place
from shopflow.floor.moving import Spot, at, move, put, take
from shopflow.jobs.models import Step
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.records.models import LedgerRow


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
    positive(quantity)
    if not reason.strip():
        raise NotNow(_("Say why, in a few words."))
    row = report(kind, lot, by=by, key=key, op=step.op_number, step=step.pk, quantity=quantity, text=reason, **payload)
    if not row.repeated:
        move(lot, quantity, at(step), Spot(place, step))
        _note_tools(lot, step, place, quantity, by=by)
    return row


@transaction.atomic
def bring_back(
    lot: Lot, step: Step, quantity: int, place: Place, *, by: User, reason: str = "", key: str | None = None
) -> LedgerRow:
    """Held, outside, lost or scrapped pieces stand at their step again: resumed, returned, found."""
    require(by, Act.MEASURE)
    positive(quantity)
    if place == Place.SHIPPED:
        raise NotNow(_("Shipped pieces come back through a return."))
    row = report(
        "brought_back", lot, by=by, key=key, op=step.op_number, quantity=quantity, place=place.value, text=reason
    )
    if not row.repeated:
        move(lot, quantity, Spot(place, step), at(step))
        _note_tools(lot, step, place, -quantity, by=by)
    return row


def _note_tools(lot: Lot, step: Step, place: Place, quantity: int, *, by: User) -> None:
    """What pieces that leave the way (below 0: come back to it) say of tools: scrap was cut, a miscount was not."""
    if place == Place.SCRAPPED:
        tool_use.note_if_run(lot, step, quantity, by=by)
    elif place == Place.LOST:
        tool_use.note_before(lot, step, -quantity, by=by)


@transaction.atomic
def rework(
    lot: Lot, step: Step, back_to: Step, quantity: int, *, reason: str, by: User, key: str | None = None
) -> LedgerRow:
    """Pieces go back to an earlier op."""
    require(by, Act.MEASURE)
    positive(quantity)
    if back_to.op_number >= step.op_number or back_to.job_id != step.job_id:
        raise NotNow(_("Rework goes back to an earlier op of the same routing."))
    row = report(
        "rework", lot, by=by, key=key, op=step.op_number, back_to=back_to.op_number, quantity=quantity, text=reason
    )
    if not row.repeated:
        move(lot, quantity, at(step), at(back_to))
    return row


@transaction.atomic
def add(lot: Lot, step: Step, quantity: int, *, reason: str, by: User, key: str | None = None) -> LedgerRow:
    """A miscount upwards, or a spare made: pieces that were not counted in before."""
    require(by, Act.RUN)
    positive(quantity)
    row = report("miscount_more", lot, by=by, key=key, op=step.op_number, quantity=quantity, text=reason)
    if not row.repeated:
        Lot.objects.filter(pk=lot.pk).update(added=F("added") + quantity)
        put(lot, quantity, at(step))
        tool_use.note_before(lot, step, quantity, by=by)
    return row


@transaction.atomic
def split(lot: Lot, step: Step, quantity: int, *, by: User, key: str | None = None, heat: str = "") -> Lot:
    """Some pieces standing at a step become a lot of their own and go on alone.

    heat: of the pieces that go, where the lot is of several; those that stay are then of the others.
    Edge sheets signed up to here hold for them too (queries.edge_sheet). Whether a piece with a nonconformance is among
    them is asked at the bench (inspection.queries.unplaced).
    """
    require(by, Act.RUN)
    positive(quantity)
    ledger.lock(lot.job.chain)
    earlier = ledger.find(key) if key else None
    if earlier and earlier.kind == "lot_split" and "part" not in earlier.data:  # from before splits named their lot
        return Lot.objects.filter(parent=lot).latest("pk")
    newest = lot.job.lots.aggregate(last=Max("number"))["last"] or 0
    number = earlier.data.get("part", 0) if earlier else newest + 1
    apart = {"heat": heat} if heat else {}
    row = report("lot_split", lot, by=by, key=key, op=step.op_number, quantity=quantity, part=number, **apart)
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
def note(lot: Lot, step: Step, text: str, *, by: User, key: str | None = None) -> LedgerRow:
    """A remark from the floor, kept in the history."""
    require(by, Act.MEASURE)
    return report("note", lot, by=by, key=key, op=step.op_number, text=text)
