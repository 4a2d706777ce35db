"""A model field for lengths that keeps what was typed (core.measure)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db import models

from shopflow.core.measure import DEGREE, Measure, NotALength, parse, parse_quantity

if TYPE_CHECKING:
    _Text = models.CharField[Measure | str | None, Measure | None]
else:
    _Text = models.CharField


class MeasureField(_Text):
    """A length stored as its typed text with the unit, such as "1/2 in"; in Python a Measure, or None when empty."""

    def __init__(self, *args: Any, default_unit: str = "mm", any_quantity: bool = False, **kwargs: Any) -> None:
        """any_quantity: an angle or a finish is taken too."""
        kwargs.setdefault("max_length", 40)
        kwargs.setdefault("blank", True)
        kwargs.setdefault("default", "")
        self.default_unit = default_unit
        self._read = parse_quantity if any_quantity else parse
        super().__init__(*args, **kwargs)

    def from_db_value(self, value: str | None, *_: object) -> Measure | None:
        return self._read(value, default_unit=self.default_unit) if value else None

    def to_python(self, value: Any) -> Measure | None:
        if value in (None, "") or isinstance(value, Measure):
            return value or None
        try:
            return self._read(str(value), default_unit=self.default_unit)
        except NotALength as refusal:
            raise ValidationError(str(refusal)) from refusal

    def get_prep_value(self, value: Any) -> str:
        measure = self.to_python(value)
        if measure is None:
            return ""
        # A number typed without a unit gets the unit it was meant in, so that the row says the same for ever.
        if any(mark in measure.text for mark in 'iImM"″°'):
            return measure.text
        return f"{measure.text}{'' if measure.unit == DEGREE else ' '}{measure.unit}"

    def value_to_string(self, obj: models.Model) -> str:
        return self.get_prep_value(self.value_from_object(obj))

    def validate(self, value: Any, model_instance: models.Model | None) -> None:
        if value is None and not self.blank:
            raise ValidationError(self.error_messages["blank"], code="blank")

    def run_validators(self, value: Any) -> None:
        super().run_validators(self.get_prep_value(value))


def millimetres(measure: Measure | None) -> float:
    """The length in millimetres; 0 where nothing was typed."""
    return measure.mm if measure else 0.0
