"""A length as a person types it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from shopflow.core.measure import Measure, NotALength, parse, parse_quantity

TEXT_LENGTH = 34
"""Leaves room for the unit that is added when the length is stored."""


class LengthField(forms.CharField):
    """Gives a Measure, or None when empty; a number typed without a unit is in the form's unit."""

    def __init__(self, *, unit: str = "mm", may_be_negative: bool = False, **kwargs: Any) -> None:
        self.unit = unit
        self.may_be_negative = may_be_negative
        kwargs.setdefault("required", False)
        kwargs.setdefault("max_length", TEXT_LENGTH)
        super().__init__(**kwargs)
        self.widget.attrs["inputmode"] = "text"

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values or isinstance(value, Measure):
            return value or None
        try:
            measure = self.read(str(value).strip())
        except NotALength as refusal:
            raise ValidationError(str(refusal)) from refusal
        if measure.value < Decimal(0) and not self.may_be_negative:
            raise ValidationError(_("Type a length of zero or more."))
        return measure

    def read(self, text: str) -> Measure:
        return parse(text, default_unit=self.unit)

    def clean(self, value: Any) -> Measure | None:
        measure: Measure | None = self.to_python(value)
        self.validate(measure)
        if isinstance(value, str):
            self.run_validators(value)
        return measure

    def prepare_value(self, value: Any) -> Any:
        return str(value) if isinstance(value, Measure) else value


class QuantityField(LengthField):
    """A length, an angle or a finish: what a characteristic may be said in."""

    def read(self, text: str) -> Measure:
        return parse_quantity(text, default_unit=self.unit)


def with_unit(form: forms.Form, unit: str) -> None:
    """Let every length of a form be typed in this unit."""
    for field in form.fields.values():
        if isinstance(field, LengthField):
            field.unit = unit
