"""Writing into the ledger that a sign-off no longer holds, or holds again. Whether it does is computed in queries."""

from __future__ import annotations

from shopflow.people.models import User
from shopflow.programs import queries
from shopflow.programs.models import Program, SignOff
from shopflow.records import ledger
from shopflow.records.models import LedgerRow

SIGNED, LAPSED, STANDS_AGAIN = "signed_off", "sign_off_lapsed", "sign_off_stands_again"


def note_standing(program: Program, *, by: User | None) -> None:
    """Tell the ledger where the program's newest sign-off changed its standing since the ledger last spoke of it.

    Called in the transaction of everything that may change it. A review that still runs says nothing yet.
    """
    sign_off = SignOff.objects.filter(revision__program=program).order_by("-pk").first()
    revision = queries.newest(program)
    if sign_off is None or revision is None:
        return
    standing = queries.sign_off_standing(revision)
    if standing.is_pending:
        return
    holds = standing.valid and standing.sign_off == sign_off
    if holds == _held(sign_off):
        return
    ledger.append(
        STANDS_AGAIN if holds else LAPSED, chain=program.job.chain, subject=("sign_off", sign_off.pk), by=by,
        revision=revision.pk, why=standing.why, what=list(standing.what),
    )  # fmt: skip


def _held(sign_off: SignOff) -> bool:
    """Whether it held when the ledger last spoke of it."""
    last = LedgerRow.objects.filter(subject_kind="sign_off", subject_id=sign_off.pk).order_by("-pk").first()
    return last is None or last.kind != LAPSED
