"""A job's programs, and sending one in."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job
from shopflow.jobs.views.answers import attempted, done, me
from shopflow.programs import actions, job_page, queries
from shopflow.programs.forms import MadeWithForm, UploadForm
from shopflow.programs.models import Program, ProgramRevision


@require_GET
def program_list(request: HttpRequest, job_id: int) -> HttpResponse:
    job = jobs.job_for(me(request), job_id)
    context = {"job": job, "crumbs": job_page.crumbs(job), **job_page.stage_context(job, me(request))}
    return render(request, "programs/list.html", context)


@require_POST
def repeat(request: HttpRequest, job_id: int, revision_id: int) -> HttpResponse:
    """Take a program that an earlier job of the same part proved into this job."""
    job = jobs.job_for(me(request), job_id)
    wanted = queries.revision_for(me(request), revision_id)
    made: list[ProgramRevision] = []
    if attempted(request, lambda: made.append(actions.take_proven(job, wanted, by=me(request)))):
        messages.success(request, _("It is a program of this job now, and is being reviewed under this job's plan."))
        return redirect("programs:revision", made[0].pk)
    return redirect("programs:list", job.pk)


@require_POST
def made_with(request: HttpRequest, revision_id: int) -> HttpResponse:
    """Say where a revision came from, or confirm what its header says."""
    revision = queries.revision_for(me(request), revision_id)
    form = MadeWithForm(request.POST)
    if form.is_valid():
        typed = form.cleaned_data
        actions.say_made_with(revision, made_with=typed["made_with"], settings=typed["made_settings"], by=me(request))
        messages.success(request, _("Kept with the revision."))
    return redirect("programs:revision", revision.pk)


@require_http_methods(["GET", "POST"])
def upload(request: HttpRequest, job_id: int) -> HttpResponse:
    job = jobs.job_for(me(request), job_id)
    program = _program_of(request, job)
    form = UploadForm(request.POST or None, request.FILES or None, job=job, program=program,
                      initial=_asked_for(request))  # fmt: skip
    sent: list[ProgramRevision] = []
    if request.method == "POST" and done(form, lambda: sent.append(_send(request, job, program, form))):
        return redirect("programs:revision", sent[0].pk)
    context = {
        "job": job,
        "program": program,
        "form": form,
        **queries.recent_makers(),
        "has_setups": bool(form.fields["setups"].queryset),  # type: ignore[attr-defined]
        "crumbs": [*job_page.crumbs(job), (reverse("programs:list", args=[job.pk]), _("Programs"))],
    }
    return render(request, "programs/upload.html", context, status=422 if form.errors else 200)


def _asked_for(request: HttpRequest) -> dict[str, list[str]]:
    """The setups that the address names; without one the form marks those that it knows to be meant."""
    setups = request.GET.getlist("setup")
    return {"setups": setups} if setups else {}


def _program_of(request: HttpRequest, job: Job) -> Program | None:
    """The program that gets a new revision, or None for a new program."""
    number = request.GET.get("program", "")
    if not number.isdigit():
        return None
    program = queries.program_for(me(request), int(number))
    return program if program.job_id == job.pk else None


def _send(request: HttpRequest, job: Job, program: Program | None, form: UploadForm) -> ProgramRevision:
    sent = form.cleaned_data["file"]
    return actions.upload(
        job,
        sent.read(),
        by=me(request),
        program=program,
        setups=list(form.cleaned_data["setups"]),
        name=program.name if program else form.program_name(),
        file_name=sent.name or "",
        note=form.cleaned_data["note"],
        made_with=form.cleaned_data["made_with"],
        made_settings=form.cleaned_data["made_settings"],
    )
