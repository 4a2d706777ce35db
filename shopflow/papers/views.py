"""Papers as files, asking for them, and what a scan of their codes tells."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from shopflow.floor import queries as floor
from shopflow.floor.models import Packet, Paper
from shopflow.jobs import queries as jobs
from shopflow.papers import actions, queries
from shopflow.papers.forms import form_for
from shopflow.papers.kinds import KINDS
from shopflow.people import kept_files
from shopflow.people.answers import answer
from shopflow.people.sessions import signed_in
from shopflow.records.models import StoredFile, Work


def _pdf(stored: StoredFile, name: str) -> HttpResponseBase:
    plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in name)
    return kept_files.sent(stored, f"{plain}.pdf", media_type="application/pdf", is_shown=True)


@require_GET
def traveler(request: HttpRequest, packet_id: int) -> HttpResponseBase:
    packet = get_object_or_404(Packet.objects.select_related("traveler", "job"), pk=packet_id)
    if packet.traveler is None:
        raise Http404(_("This traveler is not printed yet."))
    return _pdf(packet.traveler, f"traveler-{packet.job.number}-{packet.number}")


@require_GET
@never_cache
def work(request: HttpRequest, packet_id: int) -> HttpResponse:
    """How far the printing is; when it ends the page is loaded again, so that the gate says so too."""
    packet = get_object_or_404(Packet.objects.select_related("traveler_work"), pk=packet_id)
    return _work(request, packet.traveler_work, reverse("papers:work", args=[packet_id]), packet.traveler_id)


def _work(request: HttpRequest, row: Work | None, url: str, is_printed: int | None) -> HttpResponse:
    if row is None:
        raise Http404
    response = render(request, "_work.html", {"work": row, "work_url": url})
    if is_printed:
        response["HX-Refresh"] = "true"
    return response


@require_GET
@never_cache
def scan_traveler(request: HttpRequest, packet_id: int) -> HttpResponse:
    """What the code on a traveler's head opens: the job, or word that the paper is superseded."""
    packet = get_object_or_404(Packet.objects.select_related("job"), pk=packet_id)
    newest = floor.packet_of(packet.job)
    if newest and newest.pk != packet.pk:
        return render(request, "papers/scan_traveler.html", {"packet": packet, "newest": newest, "job": packet.job})
    return redirect(packet.job)


@require_POST
def ask(request: HttpRequest, job_id: int, kind: str) -> HttpResponse:
    """Ask for a paper about a shipment or a lot of the job."""
    by = signed_in(request)
    job = jobs.job_for(by, job_id)
    if kind not in KINDS:
        raise Http404
    form = form_for(kind, job, request.POST)
    to = reverse("workflow:job", args=[job_id]) + "#papers"
    if not form.is_valid():
        for name, errors in form.errors.items():
            messages.error(request, f"{form.fields[name].label}: {' '.join(map(str, errors))}")
        return redirect(to)
    about = {"shipment": form.cleaned_data["shipment"], "lot": form.cleaned_data["lot"]}
    return answer(
        request,
        lambda: actions.ask(job, kind, by=by, chosen=form.chosen, **about),
        done=_("It is being printed."),
        to=to,
    )


def _paper_for(request: HttpRequest, paper_id: int) -> Paper:
    """The paper, of a job that this person may see."""
    related = ("stored", "work", "shipment__lot", "shipment__shipped_by", "lot", "asked_by")
    found = get_object_or_404(Paper.objects.select_related(*related), pk=paper_id)
    found.job = jobs.job_for(signed_in(request), found.job_id)
    return found


@require_GET
def paper(request: HttpRequest, paper_id: int) -> HttpResponseBase:
    found = _paper_for(request, paper_id)
    if found.stored is None:
        raise Http404(_("This paper is not printed yet."))
    return _pdf(found.stored, f"{found.kind}-{found.job.number}-{found.number}")


@require_GET
@never_cache
def paper_work(request: HttpRequest, paper_id: int) -> HttpResponse:
    found = _paper_for(request, paper_id)
    return _work(request, found.work, reverse("papers:paper_work", args=[paper_id]), found.stored_id)


@require_POST
def again(request: HttpRequest, paper_id: int) -> HttpResponse:
    """Print it anew from today's records; the new one supersedes this one."""
    found, by = _paper_for(request, paper_id), signed_in(request)
    return answer(
        request,
        lambda: actions.ask(found.job, found.kind, by=by, shipment=found.shipment, lot=found.lot, chosen=found.chosen),
        done=_("It is being printed; the new one replaces the old."),
        to=reverse("workflow:job", args=[found.job_id]) + "#papers",
    )


@require_GET
@never_cache
def scan(request: HttpRequest, paper_id: int) -> HttpResponse:
    """What the code on a paper opens: what it is, and whether it still holds."""
    found = _paper_for(request, paper_id)
    context = {
        "paper": found,
        "job": found.job,
        "newer": queries.newer(found),
        "still_says": queries.still_says(found) if found.stored_id else True,
    }
    return render(request, "papers/scan.html", context)
