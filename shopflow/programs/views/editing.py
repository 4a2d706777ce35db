"""Edits of a program: added by hand, looked at together, taken into one new revision."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopflow.core.errors import CoreError, NotPossible
from shopflow.jobs.views.answers import me
from shopflow.people.pages import HtmxRequest, wants_part
from shopflow.programs import actions, pages, queries
from shopflow.programs.editing import Edit
from shopflow.programs.editing.edit import from_text
from shopflow.programs.forms import EditForm
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries import Reviewed
from shopflow.programs.views.review import whole
from shopflow.records.models import Work

MOST_OWN = 20
"""Each is a reading of the whole program."""


@require_http_methods(["GET", "POST"])
def edits(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """GET: the proposed edits with what each changes. POST (act): "add" one by hand, "look" at what the marked ones
    change together, or "take" them into one new revision, which needs a look at exactly these before.

    While a trial runs, the form stays as it was typed and sends itself again.
    """
    revision = queries.revision_for(me(request), revision_id)
    if request.method == "GET":
        return whole(request, revision, part="programs/_edits.html")
    trying = _Trying(request, Reviewed(revision))
    try:
        taken = trying.go_on()
    except CoreError as refusal:
        trying.form.add_error(None, str(refusal))
    else:
        if taken is not None:
            return _take(request, revision, trying.ticked, taken)
    return whole(request, revision, part="programs/_edits.html", **trying.shown())


class _Trying:
    """What was sent, and how far the trials are that it asks for. own: edits made by hand that the page carries on.
    polls: the page asks by itself, and a trial that was given up stays so until the person asks."""

    def __init__(self, request: HtmxRequest, seen: Reviewed) -> None:
        self.seen, self.by = seen, me(request)
        self.form = self._form(request.POST)
        self.act = request.POST.get("act", "")
        self.polls = "polls" in request.POST
        self.looked = request.POST.get("looked", "")
        self.ticked = request.POST.getlist("edit")
        self.texts = request.POST.getlist("own")[:MOST_OWN]
        self.own: list[Edit] = []
        self.rows: list[dict[str, Any]] = []
        self.waiting: Work | None = None
        self.trial: Work | None = None

    def _form(self, typed: QueryDict | None) -> EditForm:
        return EditForm(typed, tools=(self.seen.reading or {}).get("tools", ()), units=self.by.units, auto_id="edit_%s")

    def go_on(self) -> list[Edit] | None:
        """Ask for the trials, or look at how they ended; the edits made by hand where all was looked at and is taken.

        Raises CoreError where one does not fit; those that were tried before stay on the page.
        """
        self._try_each([from_text(text) for text in self.texts])
        if not self.form.is_valid():
            return None
        self._try_each([edit for edit in self.form.edits() if edit not in self.own])
        if self.waiting is None and self.act != "add":
            chosen = queries.marked_edits(self.seen, self.ticked, self.own)
            self.trial = self._ask(chosen, together=True)
        is_seen = self.waiting is None and self.trial is not None and self.looked == self.trial.key
        return self.own if is_seen and self.act == "take" else None

    def _try_each(self, edits: list[Edit]) -> None:
        for edit in edits:
            row = self._ask([edit], together=False)
            if row.result:
                self.own.append(edit)
                self.rows += pages.edit_rows(self.seen, [row.result])

    def _ask(self, edits: list[Edit], *, together: bool) -> Work:
        row = actions.ask_trial(self.seen, edits, together=together, by=self.by, anew=not self.polls)
        if row.state == Work.State.FAILED:
            raise NotPossible(row.error)
        if row.unfinished:
            self.waiting = row
        return row

    def shown(self) -> dict[str, Any]:
        """For programs/_edits.html; the form is empty again once what was typed into it is done."""
        is_done = self.form.is_valid() and self.waiting is None
        tried = {row["as_text"] for row in self.rows}
        trial = self.trial.result if self.trial and self.trial.result else None
        return {
            "edit_form": self._form(None) if is_done else self.form,
            "ticked": self.ticked,
            "own_edits": self.rows,
            "own_waiting": [text for text in self.texts if text not in tried and self.waiting],
            "waiting": self.waiting,
            "ask_again": "add" if self.act == "add" else "look",
            "trial": trial["effect"] if trial else None,
            "looked": self.trial.key if self.trial and trial else "",
        }


def _take(request: HtmxRequest, revision: ProgramRevision, ticked: list[str], own: list[Edit]) -> HttpResponse:
    made = actions.take_edits(revision, ticked, by=me(request), own=own)
    messages.success(request, _("Revision %(number)d holds the edits and is being reviewed.") % {"number": made.number})
    if not wants_part(request):
        return redirect("programs:revision", made.pk)
    response = HttpResponse()
    response["HX-Redirect"] = made.get_absolute_url()
    return response
