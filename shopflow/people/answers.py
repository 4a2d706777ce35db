"""The one way in which a page answers to something a person sent: done and said, or refused with the reason."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from shopflow.core.errors import CoreError


def answer(request: HttpRequest, act: Callable[[], object], *, done: str, to: str) -> HttpResponse:
    """Run the action and go to `to`; a refusal (CoreError) changed nothing and is said in its own words."""
    try:
        act()
    except CoreError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, done)
    return redirect(to)
