"""Decisions that still fit go along with a program: to its next revision, and to other jobs of the same part."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.programs import queries
from shopflow.programs.models import Decision, ProgramRevision
from shopflow.programs.queries import Found

MOST_OTHER = 5
"""Revisions of other jobs of the part that are asked, newest first."""


def carry_decisions(revision: ProgramRevision) -> list[Decision]:
    """Accept what was accepted before, where the same finding stands on unchanged lines and is no worse.

    A finding's key is made from the text of its lines, so that an equal key says that they did not change. The newest
    word on a finding counts: where it was to be mended or was sent back, nothing older is carried.
    """
    already = set(queries.newest_decisions(revision))
    waiting = {found.key: found for found in queries.findings(revision) if not found.is_must_fix}
    carried = []
    for before in _earlier(revision):
        open_keys = waiting.keys() - already
        if not open_keys:
            break
        for decision, old in _decided(before, open_keys):
            already.add(decision.finding_key)
            finding = waiting[decision.finding_key]
            if decision.verdict == Decision.Verdict.ACCEPT and not finding.is_worse_than(old):
                carried.append(_carry(decision, revision))
    return carried


def _decided(before: ProgramRevision, keys: set[str]) -> Iterator[tuple[Decision, Found]]:
    """What was decided there about these findings, each with the finding as it stood."""
    decided = queries.newest_decisions(before)
    if not keys & decided.keys():
        return
    for old in queries.findings(before):
        if old.key in keys and old.key in decided:
            yield decided[old.key], old


def _carry(decision: Decision, revision: ProgramRevision) -> Decision:
    return Decision.objects.create(
        revision=revision, finding_key=decision.finding_key, code=decision.code, verdict=decision.verdict,
        reason=decision.reason, carried_from=decision, decided_by=decision.decided_by,
    )  # fmt: skip


def _earlier(revision: ProgramRevision) -> Iterator[ProgramRevision]:
    """The last one of the same bytes, where they came back, else the one before; of a first revision the one that it
    repeats, then those of other programs of the same part that people decided about."""
    earlier = revision.program.revisions.filter(number__lt=revision.number).select_related("stored", "program__job")
    before = earlier.filter(stored=revision.stored_id).first() or earlier.first()
    if before is not None:
        yield before
        return
    if revision.repeats is not None:
        yield revision.repeats
    part = revision.program.job.revision.part_id
    others = ProgramRevision.objects.filter(program__job__revision__part=part, decisions__isnull=False)
    others = others.exclude(program=revision.program_id).exclude(pk=revision.repeats_id or 0)
    yield from others.select_related("stored", "program__job").distinct().order_by("-pk")[:MOST_OTHER]
