"""What a station's device keeps to go on without a network: its worker, and the page it shows where it kept none."""

from __future__ import annotations

from pathlib import Path

from django.contrib.staticfiles import finders
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET


@require_GET
@cache_control(no_cache=True)
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker's script, here and not among the static files: its address bounds what it may serve."""
    found = finders.find("built/worker.js")
    if found is None:
        raise Http404
    return HttpResponse(Path(found).read_bytes(), content_type="text/javascript; charset=utf-8")


@require_GET
def away(request: HttpRequest) -> HttpResponse:
    """Shown by the worker in place of a page that this device never saw, while there is no network."""
    return render(request, "floor/away.html")
