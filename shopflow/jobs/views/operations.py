"""The operations of a setup, one by one."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.jobs import actions, queries
from shopflow.jobs.actions.locked import locked
from shopflow.jobs.forms.operations import NewOperationForm, OperationForm
from shopflow.jobs.models import Operation, Setup, Stage
from shopflow.jobs.views.answers import attempted, done, me, said
from shopflow.jobs.views.plan import plan_crumbs
from shopflow.people.access import Act, may


@require_http_methods(["GET", "POST"])
def operation(request: HttpRequest, operation_id: int) -> HttpResponse:
    """GET: one operation as a form. POST: what was typed about it."""
    row = _operation(request, operation_id)
    form = OperationForm(operation=row, unit=me(request).units)
    if request.method == "POST":
        with transaction.atomic():
            locked(row.setup.job)
            row = _operation(request, operation_id)
            form = OperationForm(request.POST, operation=row, unit=me(request).units)
            if _saved(request, row, form):
                messages.success(request, _("The operation is saved; what follows from it is computed again."))
                return redirect(_of_setup(row.setup))
    job = row.setup.job
    context = {
        "job": job,
        "setup": row.setup,
        "operation": row,
        "form": form,
        "cautions": queries.cautions_of(row, units=me(request).units),
        "fixed": [str(form.fields[name].label).lower() for name in row.fixed if name in form.fields],
        "crumbs": [*plan_crumbs(job), (_of_setup(row.setup), _("Setup %d") % row.setup.number)],
        "may_plan": may(request.user, Act.PLAN) and job.stage not in (Stage.FLOOR, Stage.CLOSED),
    }
    status = 422 if form.errors or form.is_overtaken else 200
    return render(request, "jobs/operation.html", context, status=status)


def _saved(request: HttpRequest, row: Operation, form: OperationForm) -> bool:
    """Unless somebody else saved it since the form was shown."""
    last = queries.last_by(row.setup.job, "operation_changed", setup=row.setup.number, operation=row.kind)
    return form.settled(last) and done(form, lambda: actions.change_operation(row, by=me(request), **form.cleaned_data))


@require_POST
def add_operation(request: HttpRequest, setup_id: int) -> HttpResponse:
    setup = get_object_or_404(Setup.objects.select_related("machine"), pk=setup_id)
    setup.job = queries.job_for(me(request), setup.job_id)
    form = NewOperationForm(request.POST)
    done(form, lambda: actions.add_operation(setup, by=me(request), **form.cleaned_data))
    said(request, form)
    return redirect(_of_setup(setup))


@require_POST
def move_operation(request: HttpRequest, operation_id: int) -> HttpResponse:
    row = _operation(request, operation_id)
    attempted(request, lambda: actions.move_operation(row, by=me(request), up=request.POST.get("way") == "up"))
    return redirect(_of_setup(row.setup))


@require_POST
def remove_operation(request: HttpRequest, operation_id: int) -> HttpResponse:
    row = _operation(request, operation_id)
    attempted(request, lambda: actions.remove_operation(row, by=me(request)))
    return redirect(_of_setup(row.setup))


def _of_setup(setup: Setup) -> str:
    return reverse("jobs:setup", args=[setup.pk]) + "#operations"


def _operation(request: HttpRequest, operation_id: int) -> Operation:
    row = get_object_or_404(Operation.objects.select_related("setup__machine", "tool"), pk=operation_id)
    row.setup.job = queries.job_for(me(request), row.setup.job_id)
    return row
