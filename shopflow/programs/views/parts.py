"""The parts of a program between its stops, and several programs of one file taken apart."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopflow.core.errors import CoreError
from shopflow.jobs.models import Setup
from shopflow.jobs.views.answers import me
from shopflow.people.pages import HtmxRequest
from shopflow.programs import actions, pages, queries
from shopflow.programs.forms import CutForm
from shopflow.programs.models import ProgramRevision
from shopflow.programs.views.review import whole


@require_http_methods(["GET", "POST"])
def parts(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """GET: the parts, cut also behind the lines asked for (?after=12 40). POST: take programs of one file apart."""
    revision = queries.revision_for(me(request), revision_id)
    if request.method == "POST":
        return _split(request, revision)
    form = CutForm(request.GET)
    context = pages.parts_context(queries.Reviewed(revision), me(request), form.lines() if form.is_valid() else ())
    return whole(request, revision, part="programs/_parts.html", **{**context, "cut_form": form})


def _split(request: HttpRequest, revision: ProgramRevision) -> HttpResponse:
    setups = {str(setup.pk): setup for setup in Setup.objects.filter(job=revision.program.job_id)}
    chosen = {name.removeprefix("setup-"): value for name, value in request.POST.items() if name.startswith("setup-")}
    moved = {number: setups[value] for number, value in chosen.items() if value in setups}
    try:
        made = actions.split_off(revision, moved, by=me(request))
    except CoreError as refusal:
        messages.error(request, str(refusal))
        return redirect("programs:revision", revision.pk)
    messages.success(
        request, _("%s are programs of their own now, and everything is being reviewed.") % ", ".join(moved)
    )
    return redirect("programs:revision", made[-1].pk)
