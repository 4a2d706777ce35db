"""Questions to the customer, numbered for each job."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.locked import open_job
from shopflow.jobs.models import Job, Question
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger


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
def answer_question(question: Question, *, by: User, answer: str) -> Question:
    """Write the customer's answer down; a later answer replaces the text, and the history keeps that it did."""
    require(by, Act.EDIT_JOB)
    if not answer.strip():
        raise NotPossible(_("Type what the customer answered."))
    job = open_job(question.job)
    now = Question.objects.select_for_update().get(pk=question.pk)
    now.answer, now.answered_at = answer, timezone.now()
    now.save(update_fields=["answer", "answered_at"])
    ledger.append("question_answered", chain=job.chain, subject=("job", job.pk), by=by, number=now.number)
    return now
