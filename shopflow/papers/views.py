"""Papers as files."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from shopflow.floor.models import Packet
from shopflow.records import files


@require_GET
def traveler(request: HttpRequest, packet_id: int) -> HttpResponse:
    packet = get_object_or_404(Packet.objects.select_related("traveler", "job"), pk=packet_id)
    if packet.traveler is None:
        raise Http404(_("This traveler is not printed yet."))
    with files.open_file(packet.traveler) as stream:
        response = HttpResponse(stream.read(), content_type="application/pdf")
    name = "".join(c if c.isascii() and c.isalnum() else "-" for c in packet.job.number)
    response["Content-Disposition"] = f'inline; filename="traveler-{name}-{packet.number}.pdf"'
    return response


@require_GET
@never_cache
def work(request: HttpRequest, packet_id: int) -> HttpResponse:
    """How far the printing is; when it ends the page is loaded again, so that the gate says so too."""
    packet = get_object_or_404(Packet.objects.select_related("traveler_work"), pk=packet_id)
    if packet.traveler_work is None:
        raise Http404
    context = {"work": packet.traveler_work, "work_url": reverse("papers:work", args=[packet_id])}
    response = render(request, "_work.html", context)
    if packet.traveler_id:
        response["HX-Refresh"] = "true"
    return response
