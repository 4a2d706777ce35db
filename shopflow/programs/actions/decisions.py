"""What people decide about findings."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.locked import open_job
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries
from shopflow.programs.actions import lapses
from shopflow.programs.models import Decision, ProgramRevision
from shopflow.programs.queries import Found
from shopflow.records import ledger
from shopflow.records.canonical import digest


@transaction.atomic
def decide(revision: ProgramRevision, keys: Collection[str], *, by: User, verdict: str, reason: str) -> list[Decision]:
    """Decide findings of the newest revision, several at once with one reason; a newer decision replaces an older one.

    Raises NotPossible where a finding does not stand any more, cannot be decided so, or the reason is missing.
    """
    require(by, Act.DECIDE)
    job = open_job(revision.program.job)
    revision = queries.fresh(revision)
    _refuse_without_words(keys, verdict, reason)
    if queries.newest(revision.program) != revision:
        raise NotPossible(_("There is a newer revision of this program: decide there."))
    found = _standing(revision, keys)
    if verdict == Decision.Verdict.ACCEPT:
        _refuse_accepting_must_fix(found)
    made = [
        Decision.objects.create(
            revision=revision, finding_key=finding.key, code=finding.code, verdict=verdict, reason=reason.strip(),
            decided_by=by,
        )
        for finding in found
    ]  # fmt: skip
    ledger.append(
        "findings_decided", chain=job.chain, subject=("program_revision", revision.pk), by=by, verdict=verdict,
        decisions=[[row.pk, row.finding_key, row.code, digest(row.reason)] for row in made],
    )  # fmt: skip
    lapses.note_standing(revision.program, by=by)
    return made


def _refuse_without_words(keys: Collection[str], verdict: str, reason: str) -> None:
    if not keys:
        raise NotPossible(_("Mark the findings that you decide first."))
    if verdict not in Decision.Verdict.values:
        raise NotPossible(_("Say whether to accept, mend or send back."))
    if not reason.strip():
        raise NotPossible(_("Type or pick the reason: it stays with the program."))
    if len(reason.strip()) > 300:
        raise NotPossible(_("The reason is longer than 300 characters. Say it shorter."))


def _standing(revision: ProgramRevision, keys: Collection[str]) -> list[Found]:
    by_key = {finding.key: finding for finding in queries.findings(revision)}
    gone = [key for key in keys if key not in by_key]
    if gone:
        raise NotPossible(
            ngettext(
                "One of these findings does not stand any more. Load the page again.",
                "%(count)d of these findings do not stand any more. Load the page again.",
                len(gone),
            )
            % {"count": len(gone)}
        )
    return [by_key[key] for key in dict.fromkeys(keys)]


def _refuse_accepting_must_fix(found: list[Found]) -> None:
    blocked = [finding for finding in found if finding.is_must_fix]
    if blocked:
        raise NotPossible(_("“%s” must be mended in the program: it cannot be accepted as it is.") % blocked[0].message)
