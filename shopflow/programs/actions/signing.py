"""A person's name under exact bytes, and what those bytes were reviewed under."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.locked import open_job
from shopflow.people import log_in
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries, reviewing, simulating, typed
from shopflow.programs.models import ProgramRevision, SignOff
from shopflow.programs.queries import TWO_PERSONS, Found, NotReady, Reviewed
from shopflow.records import ledger
from shopflow.records.canonical import canonical, digest

__all__ = ["TWO_PERSONS", "NotReady", "SomeNotReady", "sign_off", "sign_off_all"]

EVIDENCE_FORMAT = 1


class SomeNotReady(NotPossible):
    """Some of several programs cannot be signed off, so none was; `refused` says which and why."""

    def __init__(self, refused: list[tuple[ProgramRevision, str]]) -> None:
        self.refused = refused
        named = " ".join(f"{revision.program.name}: {reason}" for revision, reason in refused)
        super().__init__(_("Nothing is signed off. %(named)s Untick it, or mend it first.") % {"named": named})


def sign_off(
    revision: ProgramRevision, *, by: User, password: str, printed_name: str, meaning: str, address: str = ""
) -> SignOff:
    """Sign the exact bytes off under today's assumptions.

    password: or the code of the person's badge. Raises NotReady with what is missing, NotPossible for another refusal,
    and log_in.LogInRefused where it is neither, or was tried too often.
    """
    require(by, Act.SIGN_OFF)
    proved = log_in.prove_again(by, secret=password, address=address)  # counts a failure, so outside the transaction
    with transaction.atomic():
        open_job(revision.program.job)
        seen = queries.Reviewed(queries.fresh(revision))
        queries.require_ready(seen, by=by)
        return _sign(seen, by=by, proved=proved, **_said(printed_name, meaning))


def sign_off_all(
    revisions: Sequence[ProgramRevision],
    *,
    by: User,
    password: str,
    printed_name: str,
    meaning: str,
    address: str = "",
) -> list[SignOff]:
    """Sign several programs of one job in one act, all or none; each gets a sign-off of its own that binds its bytes.

    Raises SomeNotReady with every program that cannot be signed and why, else as `sign_off`.
    """
    require(by, Act.SIGN_OFF)
    if not revisions:
        raise NotPossible(_("Tick at least one program."))
    job = revisions[0].program.job
    if any(revision.program.job_id != job.pk for revision in revisions):
        raise NotPossible(_("One act signs programs of one job."))
    proved = log_in.prove_again(by, secret=password, address=address)
    with transaction.atomic():
        open_job(job)
        every = [queries.Reviewed(queries.fresh(revision)) for revision in revisions]
        _refuse_some(every, by=by)
        said = _said(printed_name, meaning)
        return [_sign(seen, by=by, proved=proved, **said) for seen in every]


def _refuse_some(every: list[Reviewed], *, by: User) -> None:
    refused = []
    for seen in every:
        reason = queries.why_not(seen, by=by)
        if not reason and queries.standing_of(seen).valid:
            reason = _("It is signed off already.")
        if reason:
            refused.append((seen.revision, reason))
    if refused:
        raise SomeNotReady(refused)


def _said(printed_name: str, meaning: str) -> dict[str, str]:
    if not printed_name.strip() or not meaning.strip():
        raise NotPossible(_("Print your name and say what your signature means."))
    return {"printed_name": printed_name.strip(), "meaning": meaning.strip()}


def _sign(seen: Reviewed, *, by: User, proved: str, printed_name: str, meaning: str) -> SignOff:
    revision, inputs = seen.revision, seen.inputs
    evidence = canonical(_evidence(seen))
    signed = SignOff.objects.create(
        revision=revision,
        content_sha256=revision.stored.sha256,
        assumptions=canonical(inputs.assumptions),
        assumptions_hash=digest(inputs.assumptions),
        evidence=evidence,
        versions=canonical(_versions(seen)),
        printed_name=printed_name,
        meaning=meaning,
        signed_by=by,
    )
    ledger.append(
        "signed_off", chain=revision.program.job.chain, subject=("sign_off", signed.pk), by=by, revision=revision.pk,
        sha256=signed.content_sha256, assumptions=signed.assumptions_hash, evidence=digest(evidence), proved=proved,
    )  # fmt: skip
    return signed


def _versions(seen: Reviewed) -> dict[str, str]:
    """Recorded, not bound. removal: why none was computed, where none was."""
    row = seen.simulation
    removal = (
        f"{simulating.VERSION}, {row.state}" if row else f"not computed: {seen.lacking.why if seen.lacking else ''}"
    )
    return {"review": reviewing.VERSION, "inputs": seen.inputs.hash, "removal": removal}


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
