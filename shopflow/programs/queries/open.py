"""Which findings are asked for, and what keeps a program from being signed off."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from shopflow.programs.models import Decision, ProgramRevision, Review
from shopflow.programs.queries.findings import Found
from shopflow.programs.queries.reviewed import Reviewed


@dataclass(frozen=True)
class Wanted:
    """Which findings a page shows; empty values leave nothing out. tool, setup: numbers as text."""

    weight: str = ""
    tool: str = ""
    setup: str = ""
    open_only: bool = False
    words: str = ""


@dataclass(frozen=True)
class Blocking:
    """One thing that keeps a program from being signed off."""

    reason: str
    finding: Found | None = None


def findings(revision: ProgramRevision, wanted: Wanted | None = None, *, seen: Reviewed | None = None) -> list[Found]:
    """The findings of the newest review that is done, heaviest first, then in the order of the program."""
    everything = (seen or Reviewed(revision)).findings
    return [finding for finding in everything if wanted is None or _is_wanted(finding, wanted)]


def blocking(revision: ProgramRevision, *, seen: Reviewed | None = None) -> list[Blocking]:
    """Everything that keeps this revision from being signed off; empty when it may be."""
    seen = seen or Reviewed(revision)
    missing = _review_missing(seen.review)
    if missing:
        return [Blocking(missing)]
    missing = _removal_missing(seen)
    if missing:
        return [Blocking(missing), *_open(seen)]
    return _open(seen)


def _open(seen: Reviewed) -> list[Blocking]:
    return [Blocking(_blocking_text(finding), finding) for finding in seen.findings if finding.is_open]


def _review_missing(review: Review | None) -> str:
    if review is None:
        return _("It was not reviewed yet.")
    if review.work.unfinished:
        return _("The review is not finished yet.")
    if not review.is_done:
        return _("The review could not be done: %s") % review.work.error
    return ""


def _removal_missing(seen: Reviewed) -> str:
    """What cannot be computed does not keep a program from being signed: the page says so instead."""
    if seen.lacking:
        return ""
    if seen.simulation is None:
        return _("Material removal was not computed yet.")
    return _("Material removal is still being computed.") if seen.simulation.unfinished else ""


def _blocking_text(finding: Found) -> str:
    if finding.is_must_fix:
        return _("Must be mended: %s") % finding.message
    if finding.decision is None:
        return _("Nobody decided: %s") % finding.message
    if finding.decision.verdict == Decision.Verdict.MEND:
        return _("To be mended: %s") % finding.message
    return _("Sent back: %s") % finding.message


def _is_wanted(finding: Found, wanted: Wanted) -> bool:
    words = f"{finding.code} {finding.message} {finding.lines}".lower()
    return (
        (not wanted.weight or finding.weight == wanted.weight)
        and (not wanted.tool or str(finding.tool) == wanted.tool)
        and (not wanted.setup or str(finding.setup) == wanted.setup)
        and (not wanted.open_only or finding.is_open)
        and all(word in words for word in wanted.words.lower().split())
    )
