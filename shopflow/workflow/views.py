"""Where it stands, the search, and the job page."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job
from shopflow.people.answers import answer, problems, refuse
from shopflow.people.sessions import signed_in
from shopflow.records import ledger
from shopflow.workflow import actions, pages, queries
from shopflow.workflow.forms import HoldForm, HomeFilterForm, ReturnForm, ShipForm
from shopflow.workflow.queries import HomeFilter
from shopflow.workflow.standing import strips_for

JOBS_A_PAGE = 25


@require_GET
@never_cache
def home(request: HttpRequest) -> HttpResponse:
    """Where it stands: a strip for each open job, due soonest first."""
    counter = ledger.counter()  # read before the strips: what changes in between is told again, never missed
    form = HomeFilterForm(request.GET)
    chosen = HomeFilter(
        request.GET.get("customer", ""),
        request.GET.get("machine", ""),
        request.GET.get("person", ""),
        "late" in request.GET,
    )
    page = Paginator(queries.open_jobs(chosen), JOBS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "counter": counter,
        "form": form,
        "page": page,
        "strips": strips_for(list(page.object_list), signed_in(request)),
        "is_narrowed": chosen != HomeFilter(),
        "is_first_day": not Job.objects.exists(),
    }
    return render(request, "workflow/home.html", context)


@require_GET
@never_cache
def changes(request: HttpRequest) -> HttpResponse:
    """204 when nothing happened since the number the screen was told last, else the jobs that changed."""
    since = request.GET.get("since", "")
    changed = queries.changes_since(int(since) if since.lstrip("-").isdigit() else -1)
    if changed is None:
        return HttpResponse(status=204)
    counter, job_ids = changed
    return JsonResponse({"counter": counter, "strips": job_ids})


@require_GET
@never_cache
def strip(request: HttpRequest, job_id: int) -> HttpResponse:
    """One job's strip, fetched when it changed."""
    job = jobs.job_for(signed_in(request), job_id)
    alone = "alone" in request.GET
    return render(
        request, "workflow/_strip_alone.html", {"shown": strips_for([job], signed_in(request))[0], "alone": alone}
    )


@require_GET
def search(request: HttpRequest) -> HttpResponse:
    """A job, part, program hash, tool or heat number; straight to the job when it is the only thing found."""
    words = request.GET.get("q", "").strip()
    found = queries.search(words) if words else None
    if found and len(found.jobs) == 1 and not (found.parts or found.tools or found.programs):
        return redirect(found.jobs[0])
    return render(request, "workflow/search.html", {"words": words, "found": found})


@require_GET
@never_cache
def job(request: HttpRequest, job_id: int) -> HttpResponse:
    """The strip on top, one section a stage with the current one open, the gate ahead always in view."""
    shown = jobs.job_for(signed_in(request), job_id)
    return render(request, "workflow/job.html", pages.job_context(shown, signed_in(request)))


@require_GET
@never_cache
def gate(request: HttpRequest, job_id: int) -> HttpResponse:
    """What's missing, fetched again whenever something changed while the job page is open."""
    shown = jobs.job_for(signed_in(request), job_id)
    return render(request, "workflow/_gate.html", pages.gate_context(shown, signed_in(request)))


@require_GET
def history(request: HttpRequest, job_id: int) -> HttpResponse:
    shown = jobs.job_for(signed_in(request), job_id)
    page = Paginator(ledger.rows_for(shown.chain).reverse().select_related("by", "remark"), 100).get_page(
        request.GET.get("page")
    )
    context = {"job": shown, "page": page, "entries": pages.entries(page.object_list), "head": ledger.head(shown.chain)}
    return render(request, "workflow/history.html", context)


def _job_url(job_id: int, section: str = "") -> str:
    return reverse("workflow:job", args=[job_id]) + section


@require_POST
def advance(request: HttpRequest, job_id: int) -> HttpResponse:
    by = signed_in(request)
    shown = jobs.job_for(by, job_id)
    return answer(
        request,
        lambda: actions.advance(shown, by=by, why_short=request.POST.get("why_short", "")),
        done=_("The job moved on."),
        to=_job_url(job_id),
    )


@require_POST
def hold(request: HttpRequest, job_id: int) -> HttpResponse:
    by = signed_in(request)
    shown = jobs.job_for(by, job_id)
    form = HoldForm(request.POST)
    if not form.is_valid():
        refuse(request, problems(form), form)
        return redirect(_job_url(job_id))
    return answer(
        request,
        lambda: actions.hold(shown, reason=form.cleaned_data["reason"], by=by),
        done=_("The job is held."),
        to=_job_url(job_id),
        form=form,
    )


@require_POST
def resume(request: HttpRequest, job_id: int) -> HttpResponse:
    by = signed_in(request)
    shown = jobs.job_for(by, job_id)
    return answer(request, lambda: actions.resume(shown, by=by), done=_("The job goes on."), to=_job_url(job_id))


@require_POST
def packet(request: HttpRequest, job_id: int) -> HttpResponse:
    by = signed_in(request)
    shown = jobs.job_for(by, job_id)
    return answer(
        request,
        lambda: actions.print_packet(shown, by=by),
        done=_("The packet is made; its traveler is being printed."),
        to=_job_url(job_id, "#stage-release"),
    )


@require_POST
def ship(request: HttpRequest, job_id: int) -> HttpResponse:
    by = signed_in(request)
    shown = jobs.job_for(by, job_id)
    form = ShipForm(request.POST, lots=shown.lots.all())
    if not form.is_valid():
        return render(request, "workflow/job.html", pages.job_context(shown, by, ship_form=form), status=422)
    typed, key = form.cleaned_data, request.POST.get("key") or None
    return answer(
        request,
        lambda: actions.ship(shown, typed["lot"], typed["quantity"], by=by, note=typed["note"], key=key),
        done=_("Shipped. Packing slip and certificate are being printed."),
        to=_job_url(job_id, "#stage-floor"),
        form=form,
    )


@require_POST
def take_back(request: HttpRequest, job_id: int) -> HttpResponse:
    """Pieces that the customer sent back."""
    by = signed_in(request)
    shown = jobs.job_for(by, job_id)
    form = ReturnForm(request.POST, shipments=shown.shipments.all(), auto_id="return_%s")
    if not form.is_valid():
        return render(request, "workflow/job.html", pages.job_context(shown, by, return_form=form), status=422)
    typed, key = form.cleaned_data, request.POST.get("key") or None
    return answer(
        request,
        lambda: actions.take_back(typed["shipment"], typed["quantity"], reason=typed["reason"], by=by, key=key),
        done=_("They are held at the last op until somebody decides."),
        to=_job_url(job_id, "#stage-floor"),
        form=form,
    )
