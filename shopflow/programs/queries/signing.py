"""Whether a person may put their name under a program now, and which programs of a job wait for that."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.core.errors import NotPossible
from shopflow.jobs.models import Job
from shopflow.people.models import User
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries.open import Blocking, blocking
from shopflow.programs.queries.reviewed import Among, Reviewed
from shopflow.programs.queries.standing import Standing, standing_of

TWO_PERSONS = "sign_off_two_persons"


class NotReady(NotPossible):
    """Something keeps the program from being signed off; `blocking` says what."""

    def __init__(self, blocking: list[Blocking]) -> None:
        self.blocking = blocking
        super().__init__(_("Not signed off: %s") % blocking[0].reason)


@dataclass(frozen=True)
class ToSign:
    """The newest revision of one program of a job. why_not: what keeps this person from signing it; "" if nothing."""

    revision: ProgramRevision
    standing: Standing
    why_not: str

    @property
    def is_signed(self) -> bool:
        return self.standing.valid


def to_sign(job: Job, *, by: User) -> list[ToSign]:
    """Every program of the job that was sent in, in the order of the setups, with how it stands."""
    every = Among.newest_of(job).by_program.values()
    return [ToSign(seen.revision, standing_of(seen), why_not(seen, by=by)) for seen in every]


def why_not(seen: Reviewed, *, by: User) -> str:
    """What keeps this person from signing the revision off, as one sentence; "" where nothing does."""
    try:
        require_ready(seen, by=by)
    except NotReady as refusal:
        return _told(refusal.blocking)
    except NotPossible as refusal:
        return str(refusal)
    return ""


def _told(missing: list[Blocking]) -> str:
    """The first thing that is missing, and how many more there are."""
    more = len(missing) - 1
    if not more:
        return missing[0].reason
    counted = ngettext("One more thing is missing.", "%(count)d more things are missing.", more) % {"count": more}
    return f"{missing[0].reason} {counted}"


def require_ready(seen: Reviewed, *, by: User) -> None:
    """Raise NotReady or NotPossible unless this person may sign the revision off as things are now."""
    revision = seen.revision
    if not seen.is_newest:
        raise NotPossible(_("There is a newer revision of this program: sign that one off."))
    if seen.current is None:
        raise NotPossible(
            _("Something changed a moment ago and the program is to be reviewed again. Try once more soon.")
        )
    missing = blocking(revision, seen=seen)
    if missing:
        raise NotReady(missing)
    if seen.today.house_rules.value(TWO_PERSONS) and revision.uploaded_by_id == by.pk:
        raise NotPossible(_("This shop wants two persons: whoever uploaded a program does not sign it off."))
