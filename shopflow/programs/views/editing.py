"""Edits of a program: added by hand, looked at together, taken into one new revision."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopflow.core.errors import CoreError
from shopflow.jobs.views.answers import me
from shopflow.people.pages import HtmxRequest, wants_part
from shopflow.programs import actions, pages, queries
from shopflow.programs.editing import Edit
from shopflow.programs.editing.edit import from_text
from shopflow.programs.forms import EditForm
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries import Reviewed
from shopflow.programs.views.review import whole
from shopflow.records.canonical import digest

MOST_OWN = 20
"""Each is a reading of the whole program."""


@require_http_methods(["GET", "POST"])
def edits(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """GET: the proposed edits with what each changes. POST (act): "add" one by hand, "look" at what the marked ones
    change together, or "take" them into one new revision, which needs a look at exactly these before."""
    revision = queries.revision_for(me(request), revision_id)
    if request.method == "GET":
        return whole(request, revision, part="programs/_edits.html")
    seen = Reviewed(revision)
    form = _form(request, seen, request.POST)
    shown: dict[str, Any] = {"ticked": request.POST.getlist("edit"), "own_edits": []}
    try:
        own = _own(request, seen, form, shown)
        if form.is_valid() and request.POST.get("act") != "add":
            looked = digest([sorted(shown["ticked"]), sorted(edit.as_text for edit in own)])
            if (request.POST.get("act"), request.POST.get("looked")) == ("take", looked):
                return _take(request, revision, shown["ticked"], own)
            shown["trial"] = queries.effect_of(seen, queries.marked_edits(seen, shown["ticked"], own))
            shown["looked"] = looked
    except CoreError as refusal:
        form.add_error(None, str(refusal))
    if form.is_valid():
        form = _form(request, seen, None)
    return whole(request, revision, part="programs/_edits.html", edit_form=form, **shown)


def _form(request: HtmxRequest, seen: Reviewed, typed: QueryDict | None) -> EditForm:
    return EditForm(typed, tools=(seen.reading or {}).get("tools", ()), units=me(request).units)


def _own(request: HtmxRequest, seen: Reviewed, form: EditForm, shown: dict[str, Any]) -> list[Edit]:
    """The edits made by hand: those that the page carries, and the one in the form. Each was tried before it is shown;
    where the new one does not fit, the others stay on the page."""
    own = [from_text(text) for text in request.POST.getlist("own")[:MOST_OWN]]
    shown["own_edits"] = _rows(seen, own)
    if form.is_valid() and (added := [edit for edit in form.edits() if edit not in own]):
        own += added
        shown["own_edits"] += _rows(seen, added)
    return own


def _rows(seen: Reviewed, own: list[Edit]) -> list[dict[str, Any]]:
    return [pages.edit_row(row) for row in queries.own_rows(seen, own)]


def _take(request: HtmxRequest, revision: ProgramRevision, ticked: list[str], own: list[Edit]) -> HttpResponse:
    made = actions.take_edits(revision, ticked, by=me(request), own=own)
    messages.success(request, _("Revision %(number)d holds the edits and is being reviewed.") % {"number": made.number})
    if not wants_part(request):
        return redirect("programs:revision", made.pk)
    response = HttpResponse()
    response["HX-Redirect"] = made.get_absolute_url()
    return response
