"""Questions to the customer, numbered for each job."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions import shared_bars
from shopflow.jobs.actions.locked import open_job
from shopflow.jobs.models import Job, Question, Stage
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import changes
from shopflow.shop.models import Material


@transaction.atomic
def ask_question(job: Job, *, by: User, text: str, holds_job: bool = True) -> Question:
    """Note a question; while one that holds the job is open, the job does not leave intake."""
    require(by, Act.EDIT_JOB)
    now = open_job(job)
    last = now.questions.aggregate(last=Max("number"))["last"] or 0
    question = Question.objects.create(job=now, number=last + 1, text=text, holds_job=holds_job, asked_by=by)
    ledger.append(
        "question_asked", chain=now.chain, subject=("job", now.pk), by=by, number=question.number, holds=holds_job
    )
    return question


@transaction.atomic
def ask_substitution(job: Job, *, by: User, text: str, material: Material | None = None, size: str = "") -> Question:
    """Ask the customer whether other material or another size may be used in place of what was ordered.

    It always holds the job: only the customer can approve it.
    """
    if material is None and not size.strip():
        raise NotPossible(_("Say which material or which size would be used instead."))
    if material is not None and material == job.material:
        raise NotPossible(_("%s is what was ordered.") % material)
    question = ask_question(job, by=by, text=text)
    question.substitute, question.substitute_size = material, size.strip()
    question.save(update_fields=["substitute", "substitute_size"])
    return question


@transaction.atomic
def answer_question(question: Question, *, by: User, answer: str, approved: bool | None = None) -> Question:
    """Write the customer's answer down; a later answer replaces the text, and the history keeps that it did.

    approved: what the customer said to a substitution; an approved material becomes the job's.
    """
    require(by, Act.EDIT_JOB)
    if not answer.strip():
        raise NotPossible(_("Type what the customer answered."))
    job = open_job(question.job)
    now = Question.objects.select_for_update().get(pk=question.pk)
    now.answer, now.answered_at = answer, timezone.now()
    if now.is_substitution:
        _substitute(job, now, approved, by=by)
    now.save(update_fields=["answer", "answered_at", "approved"])
    ledger.append("question_answered", chain=job.chain, subject=("job", job.pk), by=by, number=now.number)
    return now


def _substitute(job: Job, question: Question, approved: bool | None, *, by: User) -> None:
    if approved is None:
        raise NotPossible(_("Say whether the customer approved it or not."))
    if question.approved and not approved:
        raise NotPossible(_("It was approved before and the job was changed: change the order back, and ask anew."))
    question.approved = approved
    if approved and question.substitute_id and question.substitute_id != job.material_id:
        if job.stage == Stage.FLOOR:
            raise NotPossible(_("Job %s is on the floor already: its material cannot change any more.") % job)
        before, job.material_id = job.material_id, question.substitute_id
        shared_bars.lock_bars(before)
        shared_bars.let_go(job, units=by.units)
        job.save(update_fields=["material"])
        ledger.append(
            "material_substituted", chain=job.chain, subject=("job", job.pk), by=by, before=before,
            after=job.material_id, number=question.number,
        )  # fmt: skip
        changes.announce(by=by, jobs=[job.pk])
