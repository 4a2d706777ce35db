"""What is learned at the machine is kept for the next review and the next plan."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.models import Job, Part
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries
from shopflow.programs.models import Lesson, ProgramRevision
from shopflow.records import ledger
from shopflow.shop.models import Material, Tool


def note_lesson(
    revision: ProgramRevision, text: str, *, by: User, about: str = "", tool: int | None = None
) -> Lesson | None:
    """Keep a note, inside the caller's transaction, whose ledger row tells of it. None where nothing was typed.

    about: the part (which only its own reviews and plans are told), the job's material, or the tool of this number
    (which everything that has them is told). Raises NotPossible where the tool or the material is not known.
    """
    require(by, Act.DECIDE)
    text = text.strip()[:300]
    if not text:
        return None
    about = about or Lesson.About.PART
    if about not in Lesson.About.values:
        raise NotPossible(_("A lesson is about the tool, the material or the part."))
    return Lesson.objects.create(
        part=revision.program.job.part,
        revision=revision,
        about=about,
        tool=_tool(revision, tool) if about == Lesson.About.TOOL else None,
        material=_material(revision) if about == Lesson.About.MATERIAL else None,
        text=text,
        noted_by=by,
    )


@transaction.atomic
def keep_lesson(about: Tool | Material | Part, text: str, *, by: User, job: Job | None = None) -> Lesson:
    """Keep what was learned about a tool, a material or a part, at any time; job: the one it was learned in."""
    require(by, Act.KEEP_LESSON)
    text = text.strip()[:300]
    if not text:
        raise NotPossible(_("Say in a few words what was learned."))
    field = {Tool: "tool", Material: "material", Part: "part"}[type(about)]
    lesson = Lesson.objects.create(about=field, text=text, noted_by=by, job=job, **{field: about})
    _noted("lesson_kept", lesson, by=by)
    return lesson


@transaction.atomic
def retire_lesson(lesson: Lesson, reason: str, *, by: User) -> Lesson:
    """What no longer holds is told no more; it stays in the list with who retired it, when and why."""
    require(by, Act.KEEP_LESSON)
    now = Lesson.objects.select_for_update().get(pk=lesson.pk)
    if now.retired_at:
        raise NotPossible(_("Somebody retired it already."))
    if not reason.strip():
        raise NotPossible(_("Say why it no longer holds."))
    now.retired_at, now.retired_by, now.retired_reason = timezone.now(), by, reason.strip()[:300]
    now.save(update_fields=["retired_at", "retired_by", "retired_reason"])
    _noted("lesson_retired", now, by=by)
    return now


def _noted(kind: str, lesson: Lesson, *, by: User) -> None:
    job = lesson.from_job
    chain = job.chain if job else ledger.SHOP
    ledger.append(kind, chain=chain, subject=("lesson", lesson.pk), by=by, about=str(lesson.about))


def _tool(revision: ProgramRevision, number: int | None) -> Tool:
    called = {tool.number: tool for tool in queries.tools_of(revision)}
    if number is None and len(called) == 1:
        return next(iter(called.values()))
    if number not in called:
        raise NotPossible(_("Say which tool the lesson is about."))
    return called[number]


def _material(revision: ProgramRevision) -> Material:
    material = revision.program.job.material
    if material is None:
        raise NotPossible(_("This job has no material of the shop's table: let the lesson be about the part."))
    return material
