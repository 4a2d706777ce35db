"""How the programs of all jobs came in."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from shopflow.programs import came_in_page


@require_GET
def came_in(request: HttpRequest) -> HttpResponse:
    """Over all jobs: which rules fired, what was changed, what cut air; filtered by the address's own query."""
    return render(request, "programs/came_in.html", came_in_page.context(request.GET))
