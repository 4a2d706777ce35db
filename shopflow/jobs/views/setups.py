"""One setup: how it is held, its zero, its tools, its stops."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.jobs import actions, pages, queries
from shopflow.jobs.actions.locked import locked
from shopflow.jobs.forms.operations import NewOperationForm
from shopflow.jobs.forms.plan import SetupForm, ToolPickForm, TouchForm
from shopflow.jobs.models import Setup, SetupTool, Stage, Touch
from shopflow.jobs.setup_facts import setup_facts
from shopflow.jobs.views.answers import attempted, done, me, said
from shopflow.jobs.views.plan import plan_crumbs
from shopflow.people.access import Act, may
from shopflow.people.models import User


@require_http_methods(["GET", "POST"])
def setup(request: HttpRequest, setup_id: int) -> HttpResponse:
    """GET: everything about the setup. POST: what was typed about it."""
    row = _setup(request, setup_id)
    reading = queries.reading_of(row.job)
    form = SetupForm(setup=row, unit=me(request).units, reading=reading)
    if request.method == "POST":
        with transaction.atomic():
            locked(row.job)
            row = _setup(request, setup_id)
            form = SetupForm(request.POST, setup=row, unit=me(request).units, reading=reading)
            if _saved(request, row, form):
                messages.success(request, _("Setup %d is saved.") % row.number)
                return redirect("jobs:plan", row.job.pk)
    context = {
        "job": row.job,
        "setup": row,
        "form": form,
        "said": setup_facts(form, row),
        "fixed": [_called(form, name) for name in row.fixed],
        "think_about": _think_about(row, me(request)),
        "lacks": dict(queries.setups_with_lacks(row.job))[row],
        "tool_form": ToolPickForm(),
        "why_no_blank_model": queries.why_no_blank_model(row),
        "blank_said": queries.blank_reading(row),
        "ratio": queries.ratio_of(row),
        "set_up_ratio": queries.set_up_ratio_of(row),
        "held_in": queries.held_in(row),
        "new_operation_form": NewOperationForm(),
        **pages.setup_picture(row, reading),
        "touch_form": TouchForm(setup=row),
        "crumbs": plan_crumbs(row.job),
        "may_plan": may(request.user, Act.PLAN) and row.job.stage not in (Stage.FLOOR, Stage.CLOSED),
    }
    return render(request, "jobs/setup.html", context, status=422 if form.errors or form.is_overtaken else 200)


def _think_about(row: Setup, user: User) -> list[str]:
    """What the plan says of this setup; nothing where no plan can be proposed."""
    proposal = queries.proposal_of(row.job, units=user.units)
    return queries.notes_about(row, proposal, queries.setups_of(row.job)) if proposal else []


def _called(form: SetupForm, name: str) -> str:
    """What a field is called on the page; tools have no field of the form."""
    return str(form.fields[name].label).lower() if name in form.fields else _("tools")


def _saved(request: HttpRequest, row: Setup, form: SetupForm) -> bool:
    """Unless somebody else saved it since the form was shown."""
    return form.settled(queries.last_by(row.job, "setup_changed", setup=row.number)) and done(
        form, lambda: actions.change_setup(row, by=me(request), **form.cleaned_data)
    )


@require_POST
def add_setup(request: HttpRequest, job_id: int) -> HttpResponse:
    job = queries.job_for(me(request), job_id)
    made: list[Setup] = []
    attempted(request, lambda: made.append(actions.add_setup(job, by=me(request))))
    return redirect("jobs:setup", made[0].pk) if made else redirect("jobs:plan", job.pk)


@require_POST
def remove_setup(request: HttpRequest, setup_id: int) -> HttpResponse:
    row = _setup(request, setup_id)
    attempted(request, lambda: actions.remove_setup(row, by=me(request)))
    return redirect("jobs:plan", row.job.pk)


@require_POST
def release_fields(request: HttpRequest, setup_id: int) -> HttpResponse:
    row = _setup(request, setup_id)
    attempted(request, lambda: actions.release_fields(row, by=me(request)))
    return redirect("jobs:setup", row.pk)


@require_POST
def tools(request: HttpRequest, setup_id: int) -> HttpResponse:
    """Pick a tool, or drop the one named by `drop`."""
    row = _setup(request, setup_id)
    if dropped := request.POST.get("drop"):
        picked = get_object_or_404(SetupTool, setup=row, pk=_number(dropped))
        attempted(request, lambda: actions.drop_tool(picked, by=me(request)))
        return redirect("jobs:setup", row.pk)
    form = ToolPickForm(request.POST)
    done(form, lambda: actions.add_tool(row, by=me(request), **form.cleaned_data))
    said(request, form)
    return redirect("jobs:setup", row.pk)


@require_POST
def touches(request: HttpRequest, setup_id: int) -> HttpResponse:
    """Ask for a stop, or drop the one named by `drop`."""
    row = _setup(request, setup_id)
    if dropped := request.POST.get("drop"):
        touch = get_object_or_404(Touch, setup=row, pk=_number(dropped))
        attempted(request, lambda: actions.drop_touch(touch, by=me(request)))
        return redirect("jobs:setup", row.pk)
    form = TouchForm(request.POST, setup=row)
    done(form, lambda: actions.add_touch(row, by=me(request), **form.cleaned_data))
    said(request, form)
    return redirect("jobs:setup", row.pk)


def _setup(request: HttpRequest, setup_id: int) -> Setup:
    rows = Setup.objects.select_related("machine").prefetch_related("operations__tool", "setup_tools__tool")
    row = get_object_or_404(rows.prefetch_related("touches__after_tool"), pk=setup_id)
    row.job = queries.job_for(me(request), row.job_id)
    return row


def _number(text: str) -> int:
    """A row's number as a button sends it; 0, which no row has, for anything else."""
    return int(text) if text.isdecimal() else 0
