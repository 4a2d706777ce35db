"""What every report from the floor has in common: its ledger row, and the reasons to refuse one."""

from __future__ import annotations

from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError
from shopflow.floor import reported
from shopflow.floor.models import Lot, Remark
from shopflow.jobs.models import Job, Step
from shopflow.people.access import Act
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.records.models import LedgerRow


class NotNow(CoreError):
    """The report does not fit where the lot stands; the text says why and what to do."""


def report(kind: str, lot: Lot, *, by: User, key: str | None, text: str = "", **payload: object) -> LedgerRow:
    """The ledger row of a report; what a person typed stands beside it, since the ledger itself can forget nothing."""
    said = payload | reported.payload()
    row = ledger.append(kind, chain=lot.job.chain, subject=("lot", lot.pk), by=by, key=key, **said)
    if text and not row.repeated:
        Remark.objects.create(row=row, text=text)
    return row


def act_for(step: Step) -> Act:
    return Act.MEASURE if step.kind == Step.Kind.INSPECT else Act.RUN


def refuse_when_held(job: Job) -> None:
    if job.held_reason:
        raise NotNow(
            _("Job %(job)s is held: %(why)s. Ask the lead to resume it.") % {"job": job, "why": job.held_reason}
        )


def positive(quantity: int) -> None:
    if quantity < 1:
        raise NotNow(_("Report at least one piece."))
