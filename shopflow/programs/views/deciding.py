"""Deciding findings."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

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
