"""A person's name under exact bytes, and what those bytes were reviewed under."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.locked import open_job
from shopflow.people import log_in
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries, reviewing, typed
from shopflow.programs.models import ProgramRevision, SignOff
from shopflow.programs.queries import Blocking, Found, Reviewed
from shopflow.records import ledger
from shopflow.records.canonical import canonical, digest
from shopflow.shop import queries as shop

EVIDENCE_FORMAT = 1
TWO_PERSONS = "sign_off_two_persons"


class NotReady(NotPossible):
    """Something keeps the program from being signed off; `blocking` says what."""

    def __init__(self, blocking: list[Blocking]) -> None:
        self.blocking = blocking
        super().__init__(_("Not signed off: %s") % blocking[0].reason)


def sign_off(
    revision: ProgramRevision, *, by: User, password: str, printed_name: str, meaning: str, address: str = ""
) -> SignOff:
    """Sign the exact bytes off under today's assumptions.

    Raises NotReady with what is missing, NotPossible for another refusal, and log_in.LogInRefused where the password is
    wrong or was tried too often.
    """
    require(by, Act.SIGN_OFF)
    log_in.prove_again(by, password=password, address=address)  # counts a failure, so outside the transaction
    with transaction.atomic():
        open_job(revision.program.job)
        seen = queries.Reviewed(queries.fresh(revision))
        _refuse(seen, by=by, printed_name=printed_name, meaning=meaning)
        return _sign(seen, by=by, printed_name=printed_name.strip(), meaning=meaning.strip())


def _refuse(seen: Reviewed, *, by: User, printed_name: str, meaning: str) -> None:
    revision = seen.revision
    if queries.newest(revision.program) != revision:
        raise NotPossible(_("There is a newer revision of this program: sign that one off."))
    if not printed_name.strip() or not meaning.strip():
        raise NotPossible(_("Print your name and say what your signature means."))
    if seen.current is None:
        raise NotPossible(
            _("Something changed a moment ago and the program is to be reviewed again. Try once more soon.")
        )
    blocking = queries.blocking(revision, seen=seen)
    if blocking:
        raise NotReady(blocking)
    if shop.house_rules().value(TWO_PERSONS) and revision.uploaded_by_id == by.pk:
        raise NotPossible(_("This shop wants two persons: whoever uploaded a program does not sign it off."))


def _sign(seen: Reviewed, *, by: User, printed_name: str, meaning: str) -> SignOff:
    revision, inputs = seen.revision, seen.inputs
    evidence = canonical(_evidence(seen))
    signed = SignOff.objects.create(
        revision=revision,
        content_sha256=revision.stored.sha256,
        assumptions=canonical(inputs.assumptions),
        assumptions_hash=digest(inputs.assumptions),
        evidence=evidence,
        versions=canonical({"review": reviewing.VERSION, "inputs": inputs.hash}),
        printed_name=printed_name,
        meaning=meaning,
        signed_by=by,
    )
    ledger.append(
        "signed_off", chain=revision.program.job.chain, subject=("sign_off", signed.pk), by=by, revision=revision.pk,
        sha256=signed.content_sha256, assumptions=signed.assumptions_hash, evidence=digest(evidence),
    )  # fmt: skip
    return signed


def _evidence(seen: Reviewed) -> dict[str, Any]:
    """The findings as they stood and what was decided about each."""
    found = seen.findings
    return {
        "format": EVIDENCE_FORMAT,
        "motions_sha256": seen.result["motions_sha256"],
        "findings": [_kept(finding) for finding in found],
        "decisions": [_decision(finding) for finding in found if finding.decision],
    }


def _kept(finding: Found) -> object:
    return typed.texts(queries.as_kept(finding))


def _decision(finding: Found) -> dict[str, Any]:
    decision = finding.decision
    assert decision is not None
    return {
        "finding": finding.key,
        "verdict": decision.verdict,
        "reason": decision.reason,
        "by": decision.decided_by_id,
        "at": decision.decided_at,
        "carried_from": decision.carried_from_id,
    }
