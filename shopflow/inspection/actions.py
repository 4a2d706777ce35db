"""Entering measurements, and deciding what becomes of pieces that miss a limit."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError
from shopflow.core.measure import Measure, NotALength, parse_quantity
from shopflow.core.quality.kinds import conforms
from shopflow.floor import actions as floor
from shopflow.floor.actions import NotNow
from shopflow.floor.models import Lot
from shopflow.floor.queries import open_run, standing_at
from shopflow.inspection import queries, switching_actions
from shopflow.inspection.limits import Limits, limits_of
from shopflow.inspection.models import Disposition, GaugeTaken, Measurement, Nonconformance, Placing
from shopflow.jobs.models import Characteristic, Step
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.records.models import LedgerRow
from shopflow.shop.models import Gauge


class NotMeasurable(CoreError):
    """The value cannot be taken as it is; the text says why and what to do."""


@transaction.atomic
def measure(
    characteristic: Characteristic,
    lot: Lot,
    piece: int,
    text: str,
    *,
    by: User,
    gauge: Gauge | None = None,
    key: str | None = None,
) -> Measurement:
    """Keep one value as typed; a value outside the limits raises a nonconformance by itself."""
    require(by, Act.MEASURE)
    gauge = gauge or queries.gauge_in_use(lot, characteristic)
    limits = limits_of(characteristic)
    _refuse_bad_gauge(characteristic, gauge, may_lack=limits.is_attribute)
    value, good = (None, _attribute(text)) if limits.is_attribute else (_value(text, limits), None)
    row = _note(characteristic, lot, piece, value, good, gauge, by=by, key=key)
    if row.repeated:
        return queries.newest(characteristic, lot, piece)
    measurement = Measurement.objects.create(
        characteristic=characteristic, lot=lot, piece=piece, value=value, conforms=good, gauge=gauge, measured_by=by
    )
    if not measurement.is_within(limits):
        _raise_out_of_limits(measurement, limits, by=by)
    switching_actions.note_result(characteristic, lot, by=by)
    return measurement


def _note(
    characteristic: Characteristic,
    lot: Lot,
    piece: int,
    value: Measure | None,
    good: bool | None,
    gauge: Gauge | None,
    *,
    by: User,
    key: str | None,
) -> LedgerRow:
    about: dict[str, Any] = {"balloon": characteristic.number, "piece": piece, "gauge": gauge.pk if gauge else None}
    where: dict[str, Any] = {"chain": lot.job.chain, "subject": ("lot", lot.pk), "by": by, "key": key}
    if value is None:
        result = "conforms" if good else "does not conform"
        return ledger.append("attribute_checked", **where, **about, result=result)
    return ledger.append("measured", **where, **about, value=value.value, unit=value.unit)


def _value(text: str, limits: Limits) -> Measure:
    try:
        value = parse_quantity(text, default_unit=limits.unit)
        value.in_unit(limits.unit)
    except NotALength as refusal:
        raise NotMeasurable(str(refusal)) from refusal
    return value


def _attribute(text: str) -> bool:
    said = conforms(text)
    if said is None:
        raise NotMeasurable(_("“%s” says neither yes nor no: does the piece conform?") % text)
    return said


def _refuse_bad_gauge(characteristic: Characteristic, gauge: Gauge | None, *, may_lack: bool = False) -> None:
    """may_lack: an attribute may be looked at without a gauge."""
    if gauge is None:
        if not may_lack:
            raise NotMeasurable(_("Say first with which gauge balloon %s is measured.") % characteristic.number)
        return
    if gauge.calibrated_until is None:
        raise NotMeasurable(_("Nobody said until when gauge %s is in calibration. Use another one.") % gauge)
    if gauge.calibrated_until < timezone.localdate():
        raise NotMeasurable(
            _("Gauge %(gauge)s is out of calibration since %(day)s. Use another one.")
            % {"gauge": gauge, "day": gauge.calibrated_until}
        )


@transaction.atomic
def take_gauge(characteristic: Characteristic, lot: Lot, gauge: Gauge, *, by: User) -> GaugeTaken:
    """Measure a characteristic of a lot with another gauge than the plan's from now on; values taken stay as they are.

    Raises NotMeasurable where it is out of calibration.
    """
    require(by, Act.MEASURE)
    _refuse_bad_gauge(characteristic, gauge)
    ledger.lock(lot.job.chain)
    taken = GaugeTaken.objects.create(lot=lot, characteristic=characteristic, gauge=gauge, taken_by=by)
    ledger.append(
        "gauge_taken", chain=lot.job.chain, subject=("lot", lot.pk), by=by, balloon=characteristic.number,
        gauge=gauge.pk,
    )  # fmt: skip
    return taken


def _raise_out_of_limits(measurement: Measurement, limits: Limits, *, by: User) -> None:
    said = {"number": measurement.characteristic.number, "value": measurement.text, "limits": limits}
    if limits.is_attribute:
        text = _("balloon %(number)s does not conform: %(name)s") % {**said, "name": measurement.characteristic.name}
    else:
        text = _("balloon %(number)s measures %(value)s, limits %(limits)s") % said
    raise_nonconformance(
        measurement.lot, text=text, by=by, piece=measurement.piece, characteristic=measurement.characteristic
    )


@transaction.atomic
def raise_nonconformance(
    lot: Lot, *, text: str, by: User, piece: int | None = None, characteristic: Characteristic | None = None
) -> Nonconformance:
    """Something about a piece is not as ordered; it stays open until it has a disposition."""
    require(by, Act.MEASURE)
    found = Nonconformance.objects.create(lot=lot, piece=piece, characteristic=characteristic, text=text, raised_by=by)
    ledger.append(
        "nonconformance_raised", chain=lot.job.chain, subject=("nonconformance", found.pk), by=by,
        piece=piece, balloon=characteristic.number if characteristic else None,
    )  # fmt: skip
    return found


@transaction.atomic
def place(nonconformance: Nonconformance, split_lot: Lot, *, went: bool, by: User) -> Placing:
    """Say whether the piece of a nonconformance went along when a lot was split off; from then on it counts there.

    Raises NotMeasurable where the nonconformance is of neither lot.
    """
    require(by, Act.MEASURE)
    ledger.lock(split_lot.job.chain)
    nonconformance.refresh_from_db()
    parent = split_lot.parent
    if parent is None or nonconformance.lot_id not in (parent.pk, split_lot.pk):
        raise NotMeasurable(_("This nonconformance is of another lot now. Load the page again."))
    said = Placing.objects.create(nonconformance=nonconformance, split_lot=split_lot, went=went, said_by=by)
    nonconformance.lot = split_lot if went else parent
    nonconformance.save(update_fields=["lot"])
    ledger.append(
        "nonconformance_placed", chain=split_lot.job.chain, subject=("nonconformance", nonconformance.pk), by=by,
        lot=nonconformance.lot.number,
    )  # fmt: skip
    return said


@transaction.atomic
def dispose(
    nonconformance: Nonconformance, verdict: str, *, reason: str, by: User, customer_told: str = ""
) -> Disposition:
    """Decide what becomes of it; decided again, the newest counts. Pieces are moved by a report of their own.

    customer_told: by whom, when and to whom; a piece used as it is does not ship without it, and certificates print it.
    """
    require(by, Act.DISPOSE)
    if not reason.strip():
        raise NotNow(_("Say why, in a few words."))
    decided = Disposition.objects.create(
        nonconformance=nonconformance,
        verdict=verdict,
        reason=reason.strip(),
        customer_told=customer_told.strip(),
        decided_by=by,
    )
    ledger.append(
        "disposed", chain=nonconformance.lot.job.chain, subject=("nonconformance", nonconformance.pk), by=by,
        verdict=verdict, customer_told=bool(customer_told.strip()),
    )  # fmt: skip
    return decided


@transaction.atomic
def pass_pieces(lot: Lot, step: Step, quantity: int, *, by: User, key: str | None = None) -> LedgerRow:
    """Pieces leave the inspection step: nothing required is unmeasured, nothing nonconforming is undecided.

    Measuring is the work of this step, so nobody has to start it first; it is finished when no piece is left.
    """
    require(by, Act.MEASURE)
    ledger.lock(lot.job.chain)
    earlier = ledger.find(key) if key else None
    problems = [] if earlier else queries.open_points(lot, step)
    if problems:
        raise NotNow(" ".join(problems))
    run = open_run(lot, step) or floor.start(lot, step, by=by)
    row = floor.count_good(run, quantity, by=by, key=key, is_inspected=True)
    if not standing_at(lot, step):
        floor.finish(run, by=by)
    return row
