"""Signing a program off."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job
from shopflow.jobs.views.answers import done, me
from shopflow.people import log_in
from shopflow.people.pages import HtmxRequest
from shopflow.programs import actions, job_page, queries
from shopflow.programs.forms import SignOffForm
from shopflow.programs.models import ProgramRevision, SignOff
from shopflow.programs.views.review import whole


@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def sign_off(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """GET: what is missing, or the form. POST: sign the exact bytes off."""
    revision = queries.revision_for(me(request), revision_id)
    if request.method == "GET":
        return whole(request, revision, part="programs/_sign_off.html")
    form = SignOffForm(request.POST)
    if _signed(request, revision, form):
        messages.success(request, _("Signed off: exactly these bytes, under today's plan and tools."))
        return redirect("programs:revision", revision.pk)
    return whole(request, revision, part="programs/_sign_off.html", sign_form=form)


@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def sign_off_all(request: HtmxRequest, job_id: int) -> HttpResponse:
    """GET: the job's programs, each ready or with what is missing. POST: sign the ticked ones off, all or none."""
    job = jobs.job_for(me(request), job_id)
    if request.method == "GET":
        return render(request, "programs/sign_all.html", job_page.sign_all_context(job, me(request)))
    form = SignOffForm(request.POST)
    ticked = request.POST.getlist("revision")
    made: list[SignOff] = []
    if _done(form, lambda: made.extend(_sign_ticked(request, job, ticked, form))):
        counted = ngettext("One program is signed off.", "%(count)d programs are signed off.", len(made))
        messages.success(request, counted % {"count": len(made)})
        return redirect("programs:list", job.pk)
    context = {**job_page.sign_all_context(job, me(request), ticked), "sign_form": form}
    return render(request, "programs/sign_all.html", context, status=422)


def _sign_ticked(request: HttpRequest, job: Job, ticked: list[str], form: SignOffForm) -> list[SignOff]:
    wanted = [int(number) for number in ticked if number.isdecimal()]
    rows = ProgramRevision.objects.select_related("program__job").filter(program__job=job).in_bulk(wanted)
    revisions = [rows[number] for number in wanted if number in rows]
    address = request.META.get("REMOTE_ADDR", "")
    return actions.sign_off_all(revisions, by=me(request), address=address, **form.cleaned_data)


def _signed(request: HttpRequest, revision: ProgramRevision, form: SignOffForm) -> bool:
    address = request.META.get("REMOTE_ADDR", "")
    return _done(form, lambda: actions.sign_off(revision, by=me(request), address=address, **form.cleaned_data))


def _done(form: SignOffForm, do: Callable[[], object]) -> bool:
    try:
        return done(form, do)
    except log_in.LogInRefused as refusal:
        form.add_error("password", str(refusal))
        return False
