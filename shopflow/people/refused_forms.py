"""What a person typed into a form that was refused: kept for the page that says why, so that nothing typed is lost.

For forms that answer with a redirect. The page shows the texts, and its script puts them back into the form
(static/src/js/refused.js). Passwords, files and what a page sends by itself are never kept.
"""

from __future__ import annotations

from dataclasses import dataclass

from django import forms
from django.http import HttpRequest

_SESSION_KEY = "refused_form"
_NEVER = (forms.PasswordInput, forms.HiddenInput, forms.MultipleHiddenInput, forms.FileInput)


@dataclass(frozen=True)
class Typed:
    """One value of one field. name: of the field in the form that was sent. text: the value as a person reads it."""

    name: str
    label: str
    value: str
    text: str


@dataclass(frozen=True)
class RefusedForm:
    """action: the address that it was sent to, by which its form on the page is known."""

    action: str
    typed: list[Typed]


def keep(request: HttpRequest, form: forms.BaseForm | None) -> None:
    """Keep what this form was sent with, in place of what an earlier one was."""
    fields = [bound for bound in form if not isinstance(bound.field.widget, _NEVER)] if form else []
    typed = [
        (bound.html_name, str(bound.label), value, _text(bound, value))
        for bound in fields
        for value in request.POST.getlist(bound.html_name)
        if value.strip()
    ]
    if typed:
        request.session[_SESSION_KEY] = {"action": request.path, "typed": typed}


def _text(bound: forms.BoundField, value: str) -> str:
    """What was chosen, in the words of its list; what was typed, as it is."""
    offered = getattr(bound.field, "choices", ())
    return next((str(text) for key, text in offered if str(key) == value), value)


def take(request: HttpRequest) -> RefusedForm | None:
    """What was kept last; None where nothing was, or a page has shown it since."""
    kept = request.session.pop(_SESSION_KEY, None) if hasattr(request, "session") else None
    return RefusedForm(kept["action"], [Typed(*one) for one in kept["typed"]]) if kept else None
