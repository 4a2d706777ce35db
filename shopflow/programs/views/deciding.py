"""Deciding findings, taking edits."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.core.errors import CoreError, NotPossible
from shopflow.jobs.views.answers import done, me
from shopflow.people.pages import HtmxRequest
from shopflow.programs import actions, queries
from shopflow.programs.forms import DecideForm
from shopflow.programs.models import ProgramRevision
from shopflow.programs.views.review import whole


@require_POST
def decide(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """Decide the marked findings; what was typed and marked stays where the decision is refused."""
    revision = queries.revision_for(me(request), revision_id)
    form = DecideForm(request.POST)
    marked = request.POST.getlist("finding")
    typed = form.data
    if done(form, lambda: actions.decide(revision, _keys(revision, marked), by=me(request), verdict=typed["verdict"],
                                         reason=typed["reason"])):  # fmt: skip
        messages.success(
            request,
            ngettext("One finding decided.", "%(count)d findings decided.", len(marked)) % {"count": len(marked)},
        )
        if not request.htmx:
            return redirect("programs:revision", revision.pk)
        form, marked = DecideForm(), []
    return whole(request, revision, part="programs/_review.html", decide_form=form, marked=marked)


def _keys(revision: ProgramRevision, marked: list[str]) -> list[str]:
    """The keys of findings by their names on the page; an unknown name stays and is refused as gone."""
    by_name = {finding.pk: finding.key for finding in queries.findings(revision)}
    return [by_name.get(name, name) for name in marked]


@require_http_methods(["GET", "POST"])
def edits(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """GET: the proposed edits with what each changes. POST: take the marked ones into one new revision."""
    revision = queries.revision_for(me(request), revision_id)
    if request.method == "POST":
        return _take(request, revision)
    return whole(request, revision, part="programs/_edits.html")


def _line(typed: str) -> int:
    """A line number as somebody typed it; 0 where the field was left empty."""
    text = typed.strip()
    if text and not text.isdigit():
        raise NotPossible(_("“%s” is no line number.") % text)
    return int(text or 0)


def _take(request: HttpRequest, revision: ProgramRevision) -> HttpResponse:
    try:
        made = actions.take_edits(
            revision,
            request.POST.getlist("edit"),
            by=me(request),
            stop_after=_line(request.POST.get("stop_after", "")),
            stop_message=request.POST.get("stop_message", ""),
        )
    except CoreError as refusal:
        messages.error(request, str(refusal))
        return redirect("programs:revision", revision.pk)
    messages.success(request, _("Revision %(number)d holds the edits and is being reviewed.") % {"number": made.number})
    return redirect("programs:revision", made.pk)
