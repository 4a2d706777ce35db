"""The review page of one revision, and the parts of it that are fetched alone."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from shopflow.core.errors import CoreError
from shopflow.jobs.views.answers import me
from shopflow.people.pages import HtmxRequest, render_part, wants_part
from shopflow.programs import actions, job_page, pages, queries
from shopflow.programs.models import ProgramRevision


def whole(
    request: HtmxRequest, revision: ProgramRevision, *, part: str = "programs/_review.html", **more: Any
) -> HttpResponse:
    """The page, or the part of it that was asked for, with forms that were not accepted as they were typed."""
    context = {**pages.review_context(revision, me(request), request.GET), **more}
    is_wrong = any(getattr(value, "errors", None) for value in more.values())
    return render_part(
        request, page="programs/revision.html", part=part, context=context, status=422 if is_wrong else 200
    )


@require_GET
def revision(request: HtmxRequest, revision_id: int) -> HttpResponse:
    return whole(request, queries.revision_for(me(request), revision_id))


@require_GET
def lines(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """A window of the program's text around a line (?line=)."""
    shown = queries.revision_for(me(request), revision_id)
    if not wants_part(request):
        return whole(request, shown)
    context = pages.lines_context(queries.Reviewed(shown), request.GET)
    return render_part(request, page="programs/revision.html", part="programs/_lines.html", context=context)


@require_GET
def findings(request: HtmxRequest, revision_id: int) -> HttpResponse:
    return whole(request, queries.revision_for(me(request), revision_id), part="programs/_findings.html")


@require_GET
def work(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """How far the review is; once it is done, htmx is told to load the page anew."""
    shown = queries.revision_for(me(request), revision_id)
    response = whole(request, shown, part="programs/_progress.html")
    review = queries.review_of(shown)
    if request.htmx and (review is None or not review.work.unfinished):
        response["HX-Refresh"] = "true"
    return response


@require_GET
def removal(request: HtmxRequest, revision_id: int) -> HttpResponse:
    """How far the removal of material is, or why it is not computed."""
    return whole(request, queries.revision_for(me(request), revision_id), part="programs/_removal.html")


@require_GET
def difference(request: HtmxRequest, revision_id: int, base_id: int) -> HttpResponse:
    """What changed since another revision of the same program; compared by a worker the first time it is asked."""
    shown = queries.revision_for(me(request), revision_id)
    base = get_object_or_404(shown.program.revisions.select_related("stored"), pk=base_id)
    comparison = actions.ask_comparison(base, shown)
    more: dict[str, Any] = {"base": base, "comparison": comparison, "difference": comparison.result}
    if not wants_part(request):
        return whole(request, shown, **more)
    context = {"revision": shown, "signed_revisions": queries.signed_revisions(shown.program), **more}
    return render_part(request, page="programs/revision.html", part="programs/_difference.html", context=context)


@require_GET
def rule_set(request: HttpRequest, revision_id: int) -> HttpResponse:
    """The house rules that the review of a revision went by, beside those of today."""
    shown = queries.revision_for(me(request), revision_id)
    found = queries.review_of(shown)
    if found is None:
        raise Http404(_("It was not reviewed yet."))
    job = shown.program.job
    crumbs = [*job_page.crumbs(job), (shown.get_absolute_url(), shown.program.name)]
    context = {
        "revision": shown, "program": shown.program, "job": job, "crumbs": crumbs, "set": queries.rule_set_of(found),
    }  # fmt: skip
    return render(request, "programs/rule_set.html", context)


@require_POST
def again(request: HttpRequest, revision_id: int) -> HttpResponse:
    """Try a review once more that failed or is missing."""
    shown = queries.revision_for(me(request), revision_id)
    try:
        actions.review_again(shown, by=me(request))
    except CoreError as refusal:
        messages.error(request, str(refusal))
    return redirect("programs:revision", shown.pk)
