"""Keeping what the sample of a lot said, and what people say about how strict the next ones are."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.quality.sampling import Severity
from shopflow.floor.actions import NotNow
from shopflow.floor.models import Lot
from shopflow.inspection import queries, switching
from shopflow.inspection.models import SampleResult, SeveritySaid
from shopflow.jobs.models import Characteristic
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger


def note_result(characteristic: Characteristic, lot: Lot, *, by: User) -> SampleResult | None:
    """Keep the result once the sample has decided: it refuses the lot, or all of it is measured. Once for a lot: later
    values are no first inspection. Called in the transaction of the measurement."""
    step = characteristic.step
    if step is None or not switching.is_switched(characteristic):
        return None
    if SampleResult.objects.filter(characteristic=characteristic, lot=lot).exists():
        return None
    row = next(one for one in queries.table(lot, step) if one.characteristic == characteristic)
    plan = row.asked.plan
    if plan is None:
        return None
    lacking = sum(cell.piece in row.asked.pieces and cell.measurement is None for cell in row.cells)
    there = sum(cell.piece in row.asked.pieces for cell in row.cells)
    if not row.is_rejected and (lacking or there < len(row.asked.pieces)):
        return None
    name, rule = switching.key_of(characteristic)
    made = SampleResult.objects.create(
        lot=lot, characteristic=characteristic, part=lot.job.part, name=name, rule=rule, severity=plan.severity,
        measured=there - lacking, missed=row.missed, is_accepted=not row.is_rejected,
        accepted_between=plan.accept < row.missed < plan.reject, letter=plan.letter, lot_size=row.sampled.lot_size,
        size=plan.size, accept=plan.accept, reject=plan.reject,
    )  # fmt: skip
    ledger.append(
        "sample_result", chain=lot.job.chain, subject=("lot", lot.pk), by=by, balloon=characteristic.number,
        severity=plan.severity.value, letter=plan.letter, lot_size=made.lot_size, size=plan.size, accept=plan.accept,
        reject=plan.reject, measured=made.measured, missed=made.missed,
        result="accepted" if made.is_accepted else "not accepted",
    )  # fmt: skip
    return made


@transaction.atomic
def say_severity(characteristic: Characteristic, severity: Severity, *, reason: str, by: User) -> SeveritySaid:
    """A person sets how strict the next lots are sampled, with the reason; the count of lots begins anew."""
    require(by, Act.DISPOSE)
    if not reason.strip():
        raise NotNow(_("Say why, in a few words."))
    if not switching.is_switched(characteristic):
        raise NotNow(_("Only what is sampled by an AQL is switched; set the pieces on the plan."))
    job = characteristic.job
    ledger.lock(job.chain)
    name, rule = switching.key_of(characteristic)
    said = SeveritySaid.objects.create(
        part=job.part, name=name, rule=rule, severity=severity.value, reason=reason.strip(), said_by=by
    )
    ledger.append(
        "severity_said", chain=job.chain, subject=("job", job.pk), by=by, balloon=characteristic.number,
        severity=severity.value,
    )  # fmt: skip
    return said
