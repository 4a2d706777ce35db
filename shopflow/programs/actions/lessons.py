"""What is learned at the machine is kept for the next review."""

from __future__ import annotations

from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs.models import Lesson, ProgramRevision


def note_lesson(revision: ProgramRevision, text: str, *, by: User, about: str = "") -> Lesson | None:
    """Keep a note for the next review of this part, inside the caller's transaction, whose ledger row tells of it.

    None where nothing was typed.
    """
    require(by, Act.DECIDE)
    text = text.strip()[:300]
    if not text:
        return None
    if about and about not in Lesson.About.values:
        raise NotPossible(_("A lesson is about the tool, the material or the part."))
    part = revision.program.job.part
    return Lesson.objects.create(part=part, revision=revision, about=about or Lesson.About.PART, text=text, noted_by=by)
