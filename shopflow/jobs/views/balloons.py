"""Balloons on the views of the part: which place of it each characteristic means."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopflow.core import solid
from shopflow.core.errors import NotPossible
from shopflow.jobs import actions, queries
from shopflow.jobs.forms.balloons import WIDTH, BalloonForm
from shopflow.jobs.models import Characteristic, Job
from shopflow.jobs.views.answers import done, me
from shopflow.jobs.views.plan import plan_crumbs
from shopflow.people.access import Act, may


@require_http_methods(["GET", "POST"])
def balloons(request: HttpRequest, job_id: int) -> HttpResponse:
    """GET: the drawing and the balloons. POST: one of them placed, by a click or in numbers."""
    job = queries.job_for(me(request), job_id)
    rows = job.characteristics.all()
    form = BalloonForm(request.POST if request.method == "POST" else None, rows=rows, initial=_initial(request))
    if request.method == "POST" and done(form, lambda: _place(request, job, form)):
        return redirect(f"{reverse('jobs:balloons', args=[job.pk])}?balloon={_next(form.cleaned_data['balloon'])}")
    drawn = queries.drawn_views(job)
    context = {
        "job": job,
        "crumbs": plan_crumbs(job),
        "rows": rows,
        "view_names": queries.view_names(),
        "form": form,
        "width": WIDTH,
        "height": round(WIDTH * solid.height_over_width(drawn)) if drawn else 0,
        "may_plan": may(request.user, Act.PLAN) and job.is_open,
    }
    return render(request, "jobs/balloons.html", context, status=422 if form.errors else 200)


def _initial(request: HttpRequest) -> dict[str, str]:
    return {"balloon": request.GET.get("balloon", "")}


def _place(request: HttpRequest, job: Job, form: BalloonForm) -> None:
    row, typed, clicked = form.cleaned_data["balloon"], form.cleaned_data, form.clicked
    view, across, down = typed["view"], (typed["across"] or 0) / 100, (typed["down"] or 0) / 100
    if clicked:
        drawn = queries.drawn_views(job)
        high = WIDTH * solid.height_over_width(drawn)
        found = solid.view_at(drawn, clicked[0] / WIDTH, clicked[1] / high)
        if found is None:
            raise NotPossible(_("No view is there. Click on the part, or close beside it."))
        view, across, down = found
    actions.place_balloon(row, by=me(request), view=view, across=across, down=down)


def _next(placed: Characteristic) -> int:
    """The next balloon without a place, so that one click after another places them all."""
    open_ones = placed.job.characteristics.filter(view="").order_by("number")
    after = open_ones.filter(number__gt=placed.number).first() or open_ones.first() or placed
    return after.pk


@require_GET
def balloons_svg(request: HttpRequest, job_id: int) -> HttpResponse:
    """The drawing with the balloons that were placed; 204 while there is none."""
    job = queries.job_for(me(request), job_id)
    picture = queries.balloon_svg(job, across="down" not in request.GET, unit=me(request).units)
    if not picture:
        return HttpResponse(status=204)
    response = HttpResponse(picture, content_type="image/svg+xml")
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-cache"
    return response
