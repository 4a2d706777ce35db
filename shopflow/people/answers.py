"""The one way in which a page answers to something a person sent: done and said, or refused with the reason."""

from __future__ import annotations

from collections.abc import Callable

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from shopflow.core.errors import CoreError
from shopflow.people import refused_forms


def answer(
    request: HttpRequest, act: Callable[[], object], *, done: str, to: str, form: forms.BaseForm | None = None
) -> HttpResponse:
    """Run the action and go to `to`; a refusal (CoreError) changed nothing and is said in its own words.

    form: what was typed, shown again with a refusal.
    """
    try:
        act()
    except CoreError as refusal:
        refuse(request, str(refusal), form)
    else:
        messages.success(request, done)
    return redirect(to)


def refuse(request: HttpRequest, reason: str, form: forms.BaseForm | None = None) -> None:
    """Say on the next page why nothing was done, with what was typed into the form."""
    messages.error(request, reason)
    refused_forms.keep(request, form)


def problems(form: forms.BaseForm) -> str:
    """Everything that is wrong with a form, in one line."""
    return " ".join(str(error) for errors in form.errors.values() for error in errors)
