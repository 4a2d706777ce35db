"""Finding a part zero from what a program drills."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopflow.jobs.views.answers import me
from shopflow.people.access import Act, may
from shopflow.people.answers import answer
from shopflow.programs import queries, zeros
from shopflow.programs.job_page import crumbs


@require_http_methods(["GET", "POST"])
def zero(request: HttpRequest, revision_id: int, setup_id: int) -> HttpResponse:
    """GET: the zeros that fit. POST: write the chosen one (`key`) into the plan."""
    revision = queries.revision_for(me(request), revision_id)
    setup = get_object_or_404(revision.program.setups.select_related("job__reading"), pk=setup_id)
    page = revision.get_absolute_url()
    if request.method == "POST":
        return answer(
            request,
            lambda: zeros.take_offer(revision, setup, request.POST.get("key", ""), by=me(request)),
            done=_("The part zero of setup %d is set. The program is reviewed again.") % setup.number,
            to=page,
        )
    context = {
        "revision": revision,
        "setup": setup,
        "job": setup.job,
        "found": zeros.offers_for(revision, setup, units=me(request).units),
        "may_plan": may(me(request), Act.PLAN),
        "crumbs": [
            *crumbs(setup.job),
            (reverse("programs:list", args=[setup.job_id]), _("Programs")),
            (page, revision.program.name),
        ],
    }
    return render(request, "programs/zero.html", context)
