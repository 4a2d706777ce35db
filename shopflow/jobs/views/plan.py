"""The plan of one job: routing, setups, what is to be measured, the approval."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django_htmx.http import reswap, retarget

from shopflow.jobs import actions, pages, queries
from shopflow.jobs.actions.locked import locked
from shopflow.jobs.forms.characteristics import LinesFormSet, characteristics_formset
from shopflow.jobs.forms.plan import ApproveForm, NewStepForm, StepForm
from shopflow.jobs.models import Characteristic, Job, Stage, Step
from shopflow.jobs.views.answers import attempted, back_to, done, me, said
from shopflow.jobs.views.orders import crumbs_of
from shopflow.people.access import Act, may
from shopflow.people.pages import HtmxRequest, render_part, wants_part


@require_GET
def plan(request: HtmxRequest, job_id: int) -> HttpResponse:
    return _plan(request, queries.job_for(me(request), job_id))


@require_POST
def propose(request: HtmxRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    if attempted(request, lambda: actions.propose_plan(job, by=me(request))):
        messages.success(request, _("The plan is proposed. Look through it: everything can be changed."))
    return _back(request, job)


@require_POST
def bring_back(request: HtmxRequest, job_id: int) -> HttpResponse:
    """Forget what was taken out, and propose at once."""
    job = queries.job_for(me(request), job_id)
    if attempted(request, lambda: actions.bring_back(job, by=me(request))):
        attempted(request, lambda: actions.propose_plan(job, by=me(request)))
    return _back(request, job)


@require_POST
def approve_plan(request: HtmxRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = ApproveForm(request.POST)
    done(form, lambda: actions.approve_plan(job, by=me(request), seen=form.cleaned_data["seen"]))
    said(request, form)
    return _back(request, job)


@require_http_methods(["GET", "POST"])
def step(request: HtmxRequest, step_id: int) -> HttpResponse:
    """GET: a line of the routing as a form. POST: what was typed into it."""
    row = _step(request, step_id)
    form = StepForm(step=row)
    if request.method == "POST":
        with transaction.atomic():
            locked(row.job)
            row = _step(request, step_id)
            form = StepForm(request.POST, step=row)
            if _saved_step(request, row, form):
                return _back(request, row.job)
    context = {"job": row.job, "step": row, "form": form, "crumbs": plan_crumbs(row.job)}
    status = 422 if form.errors or form.is_overtaken else 200
    answer = render_part(request, page="jobs/step.html", part="jobs/_step_form.html", context=context, status=status)
    return retarget(reswap(answer, "outerHTML"), f"#step-{row.pk}") if status == 422 else answer


def _saved_step(request: HttpRequest, row: Step, form: StepForm) -> bool:
    """Unless somebody else saved it since the form was shown."""
    return form.settled(queries.last_by(row.job, "step_changed", op=row.op_number)) and done(
        form, lambda: actions.change_step(row, by=me(request), **form.cleaned_data)
    )


@require_POST
def add_step(request: HtmxRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    form = NewStepForm(request.POST, job=job)
    if done(form, lambda: actions.add_step(job, by=me(request), **form.cleaned_data)):
        return _back(request, job)
    return _plan(request, job, new_step_form=form)


@require_POST
def move_step(request: HtmxRequest, step_id: int) -> HttpResponse:
    row = _step(request, step_id)
    attempted(request, lambda: actions.move_step(row, by=me(request), up=request.POST.get("way") == "up"))
    return _back(request, row.job)


@require_POST
def remove_step(request: HtmxRequest, step_id: int) -> HttpResponse:
    row = _step(request, step_id)
    attempted(request, lambda: actions.remove_step(row, by=me(request)))
    return _back(request, row.job)


@require_http_methods(["GET", "POST"])
def characteristics(request: HttpRequest, job_id: int) -> HttpResponse:
    """The whole list as one form, with empty lines at its end."""
    job = queries.job_for(me(request), job_id)
    rows = queries.characteristics_of(job)
    lines = characteristics_formset(job, rows, unit=me(request).units)
    if request.method == "POST":
        with transaction.atomic():
            locked(job)
            rows = queries.characteristics_of(job)
            lines = characteristics_formset(job, rows, unit=me(request).units, data=request.POST)
            if _saved_lines(request, job, lines):
                return redirect("jobs:characteristics", job.pk)
    status = 422 if request.method == "POST" else 200
    return render(request, "jobs/characteristics.html", _listed(request, job, lines, rows), status=status)


def _saved_lines(request: HttpRequest, job: Job, lines: LinesFormSet) -> bool:
    """Unless somebody else saved one of these lines since the list was shown."""
    if not lines.settled(queries.last_by(job, "characteristics_saved")) or not lines.is_valid():
        return False
    return attempted(request, lambda: actions.save_characteristics(job, lines.lines(), by=me(request)))


@require_POST
def take_offers(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    keys = request.POST.getlist("offer")
    attempted(request, lambda: actions.take_offers(job, keys, by=me(request), today=timezone.localdate()))
    return redirect("jobs:characteristics", job.pk)


def plan_crumbs(job: Job) -> list[tuple[str, str]]:
    return [*crumbs_of(job), (reverse("jobs:plan", args=[job.pk]), _("Plan"))]


def _plan(request: HtmxRequest, job: Job, **forms: BaseForm) -> HttpResponse:
    job = queries.job_for(me(request), job.pk)
    context = {"job": job, "crumbs": crumbs_of(job), **pages.plan_context(job, me(request)), **forms}
    status = 422 if any(form.errors for form in forms.values()) else 200
    return render_part(request, page="jobs/plan.html", part="jobs/_plan.html", context=context, status=status)


def _back(request: HtmxRequest, job: Job) -> HttpResponse:
    """The whole plan for htmx, since its approval and what it lacks follow from every line; else the page."""
    return _plan(request, job) if wants_part(request) else back_to(request, job, "plan")


def _step(request: HttpRequest, step_id: int) -> Step:
    row = get_object_or_404(Step.objects.select_related("setup"), pk=step_id)
    row.job = queries.job_for(me(request), row.job_id)
    return row


def _listed(request: HttpRequest, job: Job, lines: LinesFormSet, rows: list[Characteristic]) -> dict[str, Any]:
    is_open = job.stage not in (Stage.FLOOR, Stage.CLOSED)
    return {
        "job": job,
        "crumbs": plan_crumbs(job),
        "lines": lines,
        "rows": rows,
        "offers": queries.offers_of(job),
        "gauge_advice": queries.gauge_advice(rows, on=timezone.localdate()),
        "may_plan": may(request.user, Act.PLAN) and is_open,
    }
