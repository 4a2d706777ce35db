"""Whether a sign-off holds: always computed from what is true now, never a flag."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.core.review import Weight
from shopflow.core.review.life_rules import OF_THE_DAY
from shopflow.jobs.models import Job
from shopflow.programs.assumptions import Change, differences
from shopflow.programs.models import Decision, Program, ProgramRevision, Review, SignOff
from shopflow.programs.queries.findings import Found, counting, found_in
from shopflow.programs.queries.reviewed import Among, Reviewed

SHOWN_CHANGES = 3


@dataclass(frozen=True)
class Standing:
    """Whether the exact bytes of a revision are signed off as things are now.

    reason: a sentence, "" when valid. why: "", unsigned, bytes, assumption, findings, motions, sent-back, pending or
    failed. what: the bound values or the codes of the findings concerned. is_pending: a review that may confirm it is
    still to come.
    """

    valid: bool
    reason: str = ""
    why: str = ""
    what: tuple[str, ...] = ()
    sign_off: SignOff | None = None

    @property
    def is_pending(self) -> bool:
        return self.why == "pending"


@dataclass(frozen=True)
class Unsigned:
    """A program that may not run as it is. revision: the newest, None where nothing was uploaded."""

    program: Program
    revision: ProgramRevision | None
    reason: str


def unsigned(job: Job, *, among: Among | None = None) -> list[Unsigned]:
    """The job's programs whose newest revision has no sign-off that holds, each with the reason."""
    among = among or Among.newest_of(job)
    rows = []
    for program in among.today.programs:
        seen = among.by_program.get(program.pk)
        standing = standing_of(seen) if seen else Standing(False, _("Nothing was uploaded yet."))
        if not standing.valid:
            rows.append(Unsigned(program, seen.revision if seen else None, standing.reason))
    return rows


def sign_off_standing(revision: ProgramRevision) -> Standing:
    """Whether a sign-off of exactly these bytes holds under today's assumptions, or why not."""
    return standing_of(Reviewed(revision))


def standing_of(seen: Reviewed) -> Standing:
    """The same of a revision that was gathered already."""
    revision, today = seen.revision, seen.today
    sign_off = today.sign_offs.get((revision.program_id, revision.stored.sha256))
    if sign_off is None:
        return _without_sign_off(today.sign_offs_of_any_bytes.get(revision.program_id))
    sent_back = _sent_back_since(sign_off, seen)
    if sent_back:
        return Standing(False, _("“%s” was sent back after it was signed.") % sent_back.code, "sent-back",
                        (sent_back.code,), sign_off)  # fmt: skip
    changed = differences(json.loads(sign_off.assumptions), seen.inputs.assumptions)
    unjudged = [change for change in changed if not change.is_judged]
    if unjudged:
        return Standing(False, _changed_text(unjudged), "assumption", _paths(unjudged), sign_off)
    return _judged(sign_off, seen, changed)


def _without_sign_off(other: SignOff | None) -> Standing:
    if other is None:
        return Standing(False, _("It is not signed off."), "unsigned")
    reason = _("Revision %(number)d was signed off; these are other bytes.") % {"number": other.revision.number}
    return Standing(False, reason, "bytes", (), other)


def _sent_back_since(sign_off: SignOff, seen: Reviewed) -> Decision | None:
    verdicts = (Decision.Verdict.SEND_BACK, Decision.Verdict.MEND)
    of_revision = seen.today.decisions(seen.revision.pk)
    of_signed = seen.today.decisions(sign_off.revision_id) if sign_off.revision_id != seen.revision.pk else []
    later = [one for one in (*of_revision, *of_signed) if one.decided_at > sign_off.signed_at]
    current = counting(of_revision)
    back = (one for one in sorted(later, key=lambda one: -one.pk) if one.verdict in verdicts)
    return next((one for one in back if current.get(one.finding_key, one) == one), None)


def _judged(sign_off: SignOff, seen: Reviewed, changed: list[Change]) -> Standing:
    """What the review under today's values says, compared with what was there when it was signed."""
    review = seen.current
    if review is None or review.work.unfinished:
        if not changed and json.loads(sign_off.versions)["inputs"] == seen.inputs.hash:
            return Standing(True, sign_off=sign_off)  # only the program that reviews is newer: it holds meanwhile
        what = _changed_text(changed) if changed else _("Something that the review reads was changed.")
        reason = _("%s It is being reviewed again.") % what
        return Standing(False, reason, "pending", _paths(changed), sign_off)
    if not review.is_done:
        return Standing(False, _("It could not be reviewed again: %s") % review.work.error, "failed", (), sign_off)
    return _compared(sign_off, review, changed, seen.removal)


def _compared(sign_off: SignOff, review: Review, changed: list[Change], removal: dict[str, Any]) -> Standing:
    evidence = json.loads(sign_off.evidence)
    result = review.result
    if result.get("motions_sha256") != evidence.get("motions_sha256"):
        reason = _("%s It moves otherwise than what was signed.") % _changed_text(changed)
        return Standing(False, reason.strip(), "motions", _paths(changed), sign_off)
    worse = heavier(found_in(evidence["findings"]), found_in([*result["findings"], *removal.get("findings", ())]))
    if not worse:
        return Standing(True, sign_off=sign_off)
    text = ngettext("The review finds something new: %(first)s", "The review finds %(count)d new things: %(first)s",
                    len(worse)) % {"count": len(worse), "first": worse[0].message}  # fmt: skip
    reason = f"{_changed_text(changed)} {text}".strip()
    return Standing(False, reason, "findings", tuple(finding.code for finding in worse), sign_off)


def heavier(before: list[Found], now: list[Found]) -> list[Found]:
    """The findings that are new, weigh more, or lie further past their limit than the ones that were known.

    What a tool has left is of the day. Notes are for information and ask nobody for anything: one that an upgrade
    brought ends no sign-off.
    """
    known = {finding.key: finding for finding in before}
    weighty = [finding for finding in now if finding.weight is not Weight.NOTE and finding.code not in OF_THE_DAY]
    return [finding for finding in weighty if finding.key not in known or finding.is_worse_than(known[finding.key])]


def _changed_text(changed: list[Change]) -> str:
    """Sentences about the first changes; "" where nothing changed."""
    if not changed:
        return ""
    shown = "; ".join(str(change) for change in changed[:SHOWN_CHANGES])
    more = len(changed) - SHOWN_CHANGES
    text = shown[0].upper() + shown[1:]
    if more > 0:
        text += " " + ngettext("and %(count)d more", "and %(count)d more", more) % {"count": more}
    return text + "."


def _paths(changed: list[Change]) -> tuple[str, ...]:
    return tuple(".".join(change.path) for change in changed)
