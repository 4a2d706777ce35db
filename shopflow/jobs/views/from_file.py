"""Setups of a plan from a setup file: shown beside the plan first, then taken."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from shopflow.core.errors import CoreError
from shopflow.jobs import actions, queries
from shopflow.jobs.forms.from_file import FromFileForm
from shopflow.jobs.models import Job
from shopflow.jobs.queries.from_file import FromFile
from shopflow.jobs.views.answers import done, me
from shopflow.jobs.views.plan import plan_crumbs


@require_http_methods(["GET", "POST"])
def from_file(request: HttpRequest, job_id: int) -> HttpResponse:
    """POST with a file: what it says beside the plan. POST with `seen`: take the ticked setups of what was shown."""
    job = queries.job_for(me(request), job_id)
    form = FromFileForm(request.POST, request.FILES) if request.method == "POST" else FromFileForm()
    taken: list[int] = []
    if form.is_bound and form.data.get("seen") and done(form, lambda: taken.extend(_take(request, job, form))):
        said = ngettext("Setup %s is as the file says.", "Setups %s are as the file says.", len(taken))
        messages.success(request, said % ", ".join(map(str, taken)))
        return redirect("jobs:plan", job.pk)
    beside, texts = _beside(job, form)
    context = {
        "job": job,
        "form": form,
        "beside": beside,
        "texts": texts,
        "ticked": _ticked(form, beside) if beside else set(),
        "crumbs": plan_crumbs(job),
    }
    return render(request, "jobs/from_file.html", context, status=422 if form.errors else 200)


def _take(request: HttpRequest, job: Job, form: FromFileForm) -> list[int]:
    typed = form.cleaned_data
    return actions.take_setups(
        job, typed["said"], by=me(request), numbers=typed["take"], seen=typed["seen"], file=typed["hash"]
    )


def _ticked(form: FromFileForm, beside: FromFile) -> set[int]:
    """As the person had ticked them; at first those that put nothing in place of what the plan says."""
    if form.data.get("seen"):
        return set(form.cleaned_data.get("take", ()))
    return {block.number for block in beside.blocks if not block.overwrites}


def _beside(job: Job, form: FromFileForm) -> tuple[FromFile | None, str]:
    """What the file says beside the plan, and the file's texts for the form that takes it; None with the reason in the
    form."""
    said = form.cleaned_data.get("said") if form.is_bound and (form.is_valid() or form.cleaned_data) else None
    if said is None:
        return None, ""
    try:
        return FromFile(job, said), form.cleaned_data["texts"]
    except CoreError as refusal:
        form.add_error(None, str(refusal))
        return None, ""
