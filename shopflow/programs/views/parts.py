"""The parts of a program between its stops; parts, or several programs of one file, made programs of their own."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopflow.core.errors import CoreError
from shopflow.jobs.models import Setup
from shopflow.jobs.views.answers import me
from shopflow.people.models import User
from shopflow.people.pages import HtmxRequest
from shopflow.programs import actions, pages, queries
from shopflow.programs.forms import CutForm
from shopflow.programs.models import ProgramRevision
from shopflow.programs.views.review import whole

Made = Callable[[dict[str, Setup]], list[ProgramRevision]]


@require_http_methods(["GET", "POST"])
def parts(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """GET: the parts, cut also behind the lines asked for (?after=12 40). POST (act): "cut" keeps such lines, "part"
    makes parts programs of their own, anything else takes programs of one file apart."""
    revision = queries.revision_for(me(request), revision_id)
    if request.method == "GET":
        return _show(request, revision, CutForm(request.GET) if "after" in request.GET else None)
    if request.POST.get("act") == "cut":
        return _cut(request, revision)
    if request.POST.get("act") == "part":
        return _make(request, revision, "part-", lambda chosen: _parted(revision, chosen, me(request)))
    return _make(request, revision, "setup-", lambda chosen: actions.split_off(revision, chosen, by=me(request)))


def _parted(revision: ProgramRevision, chosen: dict[str, Setup], by: User) -> list[ProgramRevision]:
    """chosen: by the last line of each part, as the page names its fields."""
    moved = {int(line): setup for line, setup in chosen.items() if line.isdecimal()}
    return actions.make_programs_of_parts(revision, moved, by=by)


def _show(request: HtmxRequest, revision: ProgramRevision, form: CutForm | None) -> HttpResponse:
    asked = form.lines() if form and form.is_valid() else None
    context = pages.parts_context(queries.Reviewed(revision), me(request), asked)
    return whole(request, revision, part="programs/_parts.html", **context | ({"cut_form": form} if form else {}))


def _cut(request: HtmxRequest, revision: ProgramRevision) -> HttpResponse:
    form = CutForm(request.POST)
    try:
        if form.is_valid():
            actions.keep_cuts(revision, form.lines(), by=me(request))
            return _show(request, revision, None)
    except CoreError as refusal:
        form.add_error("after", str(refusal))
    return _show(request, revision, form)


def _make(request: HttpRequest, revision: ProgramRevision, prefix: str, make: Made) -> HttpResponse:
    """The setups that were chosen in fields of this prefix, by what is behind it."""
    setups = {str(setup.pk): setup for setup in Setup.objects.filter(job=revision.program.job_id)}
    chosen = {name.removeprefix(prefix): value for name, value in request.POST.items() if name.startswith(prefix)}
    try:
        made = make({name: setups[value] for name, value in chosen.items() if value in setups})
    except CoreError as refusal:
        messages.error(request, str(refusal))
        return redirect("programs:revision", revision.pk)
    names = ", ".join(one.program.name for one in made[:-1])
    messages.success(request, _("Made from this program: %s. Everything is being reviewed.") % names)
    return redirect("programs:revision", made[-1].pk)
