"""Pages for a program that comes back from the control: sent in at the machine or the desk, accepted, judged."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopflow.floor import queries, read_back_actions, read_backs
from shopflow.floor.delivery import key_of
from shopflow.floor.forms import AcceptForm, DeskSendBackForm, JudgeForm, SendBackForm
from shopflow.floor.models import Lot, ReadBack
from shopflow.floor.stations import station_of_step
from shopflow.floor.views import lot_and_step, op_url
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, Step
from shopflow.jobs.views.answers import done, me
from shopflow.people import kept_files
from shopflow.people.access import Act, may
from shopflow.people.pages import HtmxRequest, render_part
from shopflow.programs import queries as programs
from shopflow.shop.calendar import workdays
from shopflow.shop.models import Tool


@require_http_methods(["GET", "POST"])
def send_back(request: HttpRequest, lot_id: int, step_id: int) -> HttpResponse:
    """At the machine: the program as the control gave it out."""
    lot, step = lot_and_step(lot_id, step_id)
    form = SendBackForm(request.POST or None, request.FILES or None)
    sent = _sent(request, form, lambda: (lot, step)) if request.method == "POST" else None
    if sent:
        return redirect("floor:read_back", sent.pk)
    context = _op(lot, step) | {"form": form, "key": uuid4().hex, "copy": queries.floor_copy_of(step)}
    return render(request, "floor/send_back.html", context, status=422 if form.errors else 200)


def _sent(request: HttpRequest, form: SendBackForm, where: Any) -> ReadBack | None:
    """Send it in, or put the refusal into the form, with all that was typed."""
    if not form.is_valid():
        return None
    lot, step = where()
    found: list[ReadBack] = []
    if not done(form, lambda: found.append(_send(request, form, lot, step))):
        return None
    messages.success(request, _SAID[ReadBack.Handling(found[0].handling)]())
    return found[0]


def _send(request: HttpRequest, form: SendBackForm, lot: Lot, step: Step) -> ReadBack:
    file = form.cleaned_data["file"]
    return read_back_actions.send(
        lot, step, file.read(), by=me(request), file_name=file.name or "", note=form.cleaned_data["note"],
        key=key_of(request),
    )  # fmt: skip


_SAID = {
    ReadBack.Handling.PENDING: lambda: _("It is kept, and is being compared with the floor copy. This page will say."),
    ReadBack.Handling.NONE: lambda: _("It is the floor copy: nothing was changed."),
    ReadBack.Handling.ACCEPT: lambda: _("Small changes. Accept them with a note, then the lot goes on."),
    ReadBack.Handling.REVIEW: lambda: _("This has to be reviewed before the rest of the lot runs."),
}


@require_http_methods(["GET", "POST"])
def of_job(request: HttpRequest, job_id: int) -> HttpResponse:
    """At the desk: what came back for a job, and sending one in."""
    job = jobs.job_for(me(request), job_id)
    places = _places(job)
    form = DeskSendBackForm(request.POST or None, request.FILES or None, places=places)
    sent = _sent(request, form, lambda: form.lot_and_step) if request.method == "POST" else None
    if sent:
        return redirect("floor:read_back", sent.pk)
    context = {
        "job": job,
        "rows": [_row(row) for row in read_backs.of_job(job)],
        "form": form if places and job.is_open and may(request.user, Act.READ_BACK) else None,
        "crumbs": [
            (job.get_absolute_url(), _("Job %s") % job.number),
            (reverse("programs:list", args=[job.pk]), _("Programs")),
        ],
    }
    return render(request, "floor/read_backs.html", context, status=422 if form.errors else 200)


def _places(job: Job) -> dict[str, tuple[Lot, Step, str]]:
    """Lots and milling ops that run a floor copy, by the value that the form sends."""
    steps = [step for step in job.steps.exclude(setup=None).order_by("op_number") if queries.floor_copy_of(step)]
    words = _("op %(op)s %(title)s, lot %(lot)s")
    return {
        f"{lot.pk}-{step.pk}": (lot, step, words % {"op": step.op_number, "title": step.title, "lot": lot.number})
        for lot in queries.lots_of(job)
        for step in steps
    }


def _row(row: ReadBack) -> dict[str, Any]:
    due = read_backs.review_due(row) if row.waits_for_a_reviewer and row.handling == ReadBack.Handling.ACCEPT else None
    late = workdays().late_by(due, timezone.localdate()) if due else 0
    return {
        "late": late,
        "read_back": row,
        "unsettled": read_backs.unsettled(row),
        "whose": read_backs.whose(row),
        "due": due,
    }


@require_GET
def read_back(request: HttpRequest, read_back_id: int) -> HttpResponse:
    return _page(request, _found(read_back_id))


@require_GET
def work(request: HtmxRequest, read_back_id: int) -> HttpResponse:
    """How far the comparison is; once it is done, htmx is told to load the page anew."""
    row = _found(read_back_id)
    address = reverse("floor:read_back_work", args=[row.pk])
    response = render_part(
        request, page="floor/read_back.html", part="_work.html",
        context={**_context(request, row), "work": row.work, "work_url": address},
    )  # fmt: skip
    if request.htmx and not row.is_being_compared:
        response["HX-Refresh"] = "true"
    return response


def _found(pk: int) -> ReadBack:
    return get_object_or_404(read_backs.read_backs(), pk=pk)


def _page(request: HttpRequest, row: ReadBack, status: int = 200, **sent: BaseForm) -> HttpResponse:
    return render(request, "floor/read_back.html", {**_context(request, row), **sent}, status=status)


def _context(request: HttpRequest, row: ReadBack) -> dict[str, Any]:
    return {
        "read_back": row,
        **_op(row.lot, row.step),
        **_row(row),
        "more": sum(row.counts.values()) - len(row.changes),
        "may_accept": row.may_be_accepted and may(request.user, Act.ACCEPT_CHANGE),
        "may_judge": row.waits_for_a_reviewer and may(request.user, Act.JUDGE_READ_BACK),
        "accept_form": AcceptForm(),
        "judge_form": JudgeForm(tools=_tools(row)),
    }


def _tools(row: ReadBack) -> list[Tool]:
    return programs.tools_of(row.floor_copy.revision)


def _op(lot: Lot, step: Step) -> dict[str, Any]:
    return {"lot": lot, "step": step, "job": lot.job, "station": station_of_step(step), "op_url": op_url(lot, step)}


@require_POST
def accept(request: HttpRequest, read_back_id: int) -> HttpResponse:
    """Whoever runs the machine accepts small changes with a note."""
    row, form, by = _found(read_back_id), AcceptForm(request.POST), me(request)
    note = request.POST.get("note", "")
    if done(form, lambda: read_back_actions.accept(row, note=note, by=by)):
        messages.success(request, _("Accepted. The lot goes on; a reviewer looks at it by the next working day."))
        return redirect(op_url(row.lot, row.step))
    return _page(request, _found(read_back_id), 422, accept_form=form)


@require_POST
def judge(request: HttpRequest, read_back_id: int) -> HttpResponse:
    """A reviewer takes what came back as a new revision, or refuses it."""
    row, form, by = _found(read_back_id), JudgeForm(request.POST, tools=_tools(_found(read_back_id))), me(request)
    if not form.is_valid():
        return _page(request, row, 422, judge_form=form)
    lesson = {name: form.cleaned_data[name] for name in ("lesson", "about", "tool")}
    reason = form.cleaned_data["reason"]
    if "take" in request.POST:
        if done(form, lambda: read_back_actions.take(row, by=by, note=reason, **lesson)):
            messages.success(request, _("It is a new revision now, and is being reviewed."))
            return redirect(_found(row.pk).revision or op_url(row.lot, row.step))
    elif done(form, lambda: read_back_actions.refuse(row, by=by, reason=reason, **lesson)):
        messages.success(request, _("Refused. The floor copy has to be loaded again."))
        return redirect("floor:read_backs", row.lot.job_id)
    return _page(request, _found(read_back_id), 422, judge_form=form)


@require_GET
def file(request: HttpRequest, read_back_id: int) -> HttpResponseBase:
    """The exact bytes as they came from the control."""
    row = _found(read_back_id)
    name = f"read-back-{row.pk}-{row.floor_copy.file_name}"
    return kept_files.sent(row.stored, name, media_type=kept_files.PLAIN)
