"""Decisions that still fit go along with a program to its next revision."""

from __future__ import annotations

from shopflow.programs import queries
from shopflow.programs.models import Decision, ProgramRevision


def carry_decisions(revision: ProgramRevision) -> list[Decision]:
    """Accept what was accepted before, where the same finding stands on unchanged lines and is no worse.

    A finding's key is made from the text of its lines, so that an equal key says that they did not change.
    """
    before = _revision_before(revision)
    if before is None:
        return []
    known = {finding.key: finding for finding in queries.findings(before)}
    decided = queries.newest_decisions(before)
    already = queries.newest_decisions(revision)
    carried = []
    for finding in queries.findings(revision):
        old, decision = known.get(finding.key), decided.get(finding.key)
        if old is None or decision is None or finding.key in already or finding.is_must_fix:
            continue
        if decision.verdict == Decision.Verdict.ACCEPT and not finding.is_worse_than(old):
            carried.append(_carry(decision, revision))
    return carried


def _carry(decision: Decision, revision: ProgramRevision) -> Decision:
    return Decision.objects.create(
        revision=revision, finding_key=decision.finding_key, code=decision.code, verdict=decision.verdict,
        reason=decision.reason, carried_from=decision, decided_by=decision.decided_by,
    )  # fmt: skip


def _revision_before(revision: ProgramRevision) -> ProgramRevision | None:
    """The last one of the same bytes, where they came back; else the one before."""
    earlier = revision.program.revisions.filter(number__lt=revision.number).select_related("stored", "program__job")
    return earlier.filter(stored=revision.stored_id).first() or earlier.first()
