"""A part that was made before: its earlier orders, and what changed since."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopflow.jobs import actions, queries
from shopflow.jobs.models import Job, JobFile, Stage
from shopflow.jobs.views.answers import attempted, me
from shopflow.jobs.views.plan import plan_crumbs
from shopflow.people.access import Act, may


@require_http_methods(["GET", "POST"])
def repeat(request: HttpRequest, job_id: int) -> HttpResponse:
    """GET: earlier orders, and what changed since the one whose plan was copied. POST: copy the plan of one."""
    job = queries.job_for(me(request), job_id)
    if request.method == "POST":
        wanted = request.POST.get("source", "")
        source = get_object_or_404(Job, pk=int(wanted) if wanted.isdecimal() else 0)
        if attempted(request, lambda: actions.copy_plan(job, source, by=me(request))):
            messages.success(request, _("The plan is copied. Below stands what changed since it was approved."))
        return redirect("jobs:repeat", job.pk)
    context = {
        "job": job,
        "crumbs": plan_crumbs(job),
        "earlier": queries.earlier_jobs(job),
        "changes": queries.changed_since(job, today=timezone.localdate()),
        **_models_compared(job),
        "may_plan": may(request.user, Act.PLAN) and job.stage not in (Stage.FLOOR, Stage.CLOSED),
    }
    return render(request, "jobs/repeat.html", context)


def _models_compared(job: Job) -> dict[str, Any]:
    """Where the order's model is another than the copied plan's: which faces and holes differ, and whose steps that
    touches; compared by a worker when the page is first asked for."""
    base = queries.current_file(job.plan_from, JobFile.Kind.MODEL) if job.plan_from else None
    present = queries.current_file(job, JobFile.Kind.MODEL)
    if base is None or present is None or base.stored_id == present.stored_id:
        return {}
    row = actions.ask_comparison(base, present)
    found = queries.comparison_in(row)
    before, after = (queries.reading_in(queries.work_of_model(model)) for model in (base, present))
    made = queries.changed_model(job, found, before, after) if found and before and after else None
    return {"base": base, "compared": row, "model_changed": made}
