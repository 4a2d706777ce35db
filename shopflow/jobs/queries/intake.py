"""What was ordered: jobs, their files, their questions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet
from django.http import Http404
from django.utils.translation import gettext as _

from shopflow.jobs.models import Customer, Job, JobFile, Question, Stage
from shopflow.people.access import Act, may
from shopflow.people.models import User

ORDERS = {
    "due": ("due_on", "number"),
    "number": ("-number",),
    "customer": ("revision__part__customer__name", "due_on", "number"),
}


@dataclass(frozen=True)
class JobFilter:
    """Which jobs are asked for; empty values leave nothing out.

    stage: a Stage, "open" (the default) or "all". customer: id as text. words: each must be found somewhere.
    """

    words: str = ""
    customer: str = ""
    stage: str = "open"
    due: str = ""
    order: str = "due"


def job_for(user: User, pk: int) -> Job:
    """The job, with what its pages always show; 404 to people who may not see the shop's work."""
    job = _visible(user).select_related("reading", "created_by").filter(pk=pk).first()
    if job is None:
        raise Http404(_("There is no such job."))
    return job


def jobs_for(user: User, wanted: JobFilter, *, today: date) -> QuerySet[Job]:
    """Jobs in the order asked for."""
    jobs = _visible(user).filter(_stage(wanted.stage))
    if wanted.customer.isdigit():
        jobs = jobs.filter(revision__part__customer=int(wanted.customer))
    if wanted.due == "late":
        jobs = jobs.filter(due_on__lt=today)
    for word in wanted.words.split()[:6]:
        jobs = jobs.filter(_mentions(word))
    return jobs.order_by(*ORDERS.get(wanted.order, ORDERS["due"]))


def customer_for(user: User, pk: int, *, lock: bool = False) -> Customer:
    """The customer; 404 to people who may not see the shop's work. lock: until the transaction ends."""
    rows = Customer.objects.select_for_update() if lock else Customer.objects.all()
    customer = rows.filter(pk=pk).first() if may(user, Act.SEE) else None
    if customer is None:
        raise Http404(_("There is no such customer."))
    return customer


def current_file(job: Job, kind: str) -> JobFile | None:
    """The newest file of a kind; older ones are superseded by it."""
    return job.files.select_related("stored", "uploaded_by").filter(kind=kind).first()


def files_of(job: Job) -> list[JobFile]:
    """All files, newest first."""
    return list(job.files.select_related("stored", "uploaded_by"))


def questions_of(job: Job) -> list[Question]:
    return list(job.questions.select_related("asked_by"))


def open_questions(job: Job) -> QuerySet[Question]:
    """Questions that the customer has not answered; only those with holds_job keep the job in intake."""
    return job.questions.filter(answered_at__isnull=True)


def _visible(user: User) -> QuerySet[Job]:
    if not may(user, Act.SEE):
        return Job.objects.none()
    return Job.objects.select_related("revision__part__customer", "material")


def _stage(stage: str) -> Q:
    if stage == "all":
        return Q()
    return Q(stage=stage) if stage in Stage.values else ~Q(stage=Stage.CLOSED)


def _mentions(word: str) -> Q:
    places = (
        "number", "order_number", "heat_number", "material_note", "material__name", "revision__part__number",
        "revision__part__name", "revision__part__customer__name",
    )  # fmt: skip
    found = Q()
    for place in places:
        found |= Q(**{f"{place}__icontains": word})
    return found
