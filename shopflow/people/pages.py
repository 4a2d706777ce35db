"""A page, or only the part of it that htmx asked for, from one view."""

from __future__ import annotations

from typing import Any

from django.contrib.messages import get_messages
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.utils.cache import patch_vary_headers
from django_htmx.middleware import HtmxDetails


class HtmxRequest(HttpRequest):
    htmx: HtmxDetails


def wants_part(request: HtmxRequest) -> bool:
    """Whether a fragment is asked for. A history restore replaces the whole body, so it gets the page."""
    return bool(request.htmx) and not request.htmx.history_restore_request and not request.htmx.boosted


def render_part(
    request: HtmxRequest, *, page: str, part: str, context: dict[str, Any] | None = None, status: int = 200
) -> HttpResponse:
    """Render `page`, or the fragment `part` for htmx; the browser's cache keeps the two apart by Vary.

    Messages that wait for the person travel with the fragment, so that they are said when they happen.
    """
    is_part = wants_part(request)
    body = render_to_string(part if is_part else page, context, request=request)
    if is_part and (waiting := list(get_messages(request))):
        body += render_to_string("_messages.html", {"messages": waiting, "out_of_band": True}, request=request)
    response = HttpResponse(body, status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response
