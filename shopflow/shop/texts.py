"""One text for each value of a row: what a CSV file, a form, the history and a table show."""

from __future__ import annotations

from decimal import Decimal

from django.db import models

from shopflow.shop.fields import MeasureField

YES, NO = "yes", "no"
BETWEEN = "; "


def text_of(row: models.Model, name: str) -> str:
    """The value of a field as a person would type it; lengths exactly as they were typed, with their unit."""
    field, value = row._meta.get_field(name), getattr(row, name, None)  # None: a row that is still to be chosen
    if isinstance(field, MeasureField):
        return field.get_prep_value(value)
    return plain_text(value)


def plain_text(value: object) -> str:
    match value:
        case None:
            return ""
        case bool():
            return YES if value else NO
        case Decimal():
            return f"{value.normalize():f}"
        case list():
            return BETWEEN.join(item if isinstance(item, str) else " ".join(map(str, item)) for item in value)
    return str(value)
