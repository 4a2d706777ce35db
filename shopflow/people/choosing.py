"""What a field of a form lets choose, where it is known only as the form is made."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, cast

from django import forms
from django.db.models import QuerySet


def offer(form: forms.BaseForm, name: str, choices: Iterable[tuple[str, Any]]) -> None:
    """Of a field of choices: (value, words) pairs, or groups of them by name, in their order."""
    cast(forms.ChoiceField, form.fields[name]).choices = list(choices)


def offer_rows(form: forms.BaseForm, name: str, rows: QuerySet[Any]) -> None:
    """Of a field that takes a row of the database."""
    cast("forms.ModelChoiceField[Any]", form.fields[name]).queryset = rows
