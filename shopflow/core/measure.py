"""A measured or typed length: what was typed is kept, the Decimal and the unit follow from it exactly."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from shopflow.core.errors import CoreError

MM_PER_IN = Decimal("25.4")
"""Exact by definition since 1959 (international inch)."""

_UNITS = {"": "", "mm": "mm", "in": "in", "inch": "in", '"': "in", "″": "in"}
_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_TYPED = re.compile(
    rf"^\s*(?:(?P<whole>[+-]?\d+)[\s-]+)?(?P<number>{_NUMBER})(?:/(?P<den>\d+))?\s*(?P<unit>[a-zA-Z\"″]*)\s*$"
)


class NotALength(CoreError):
    """The text is not a length; the sentence says what would be."""


@dataclass(frozen=True)
class Measure:
    """A length as a person typed it.

    text: exactly what was typed. value: the number, exact, in `unit` ("mm" or "in").
    """

    text: str
    value: Decimal
    unit: str

    @property
    def mm(self) -> float:
        """The length in millimetres, for computing only; limits compare in Decimal."""
        return float(self.value * MM_PER_IN if self.unit == "in" else self.value)

    def in_unit(self, unit: str) -> Decimal:
        """The exact value in "mm" or "in"; inches from millimetres carry Decimal's 28 digits."""
        if unit == self.unit:
            return self.value
        return self.value * MM_PER_IN if unit == "mm" else self.value / MM_PER_IN

    def __str__(self) -> str:
        return self.text


def parse(text: str, *, default_unit: str) -> Measure:
    """Read "12.5", "12,5 mm", ".500 in", "1/2 in" or '1 1/2"'; a number without a unit is in default_unit.

    Raises NotALength, with a sentence for the person, for anything else.
    """
    found = _TYPED.match(text)
    unit = _UNITS.get(found["unit"].lower()) if found else None
    if found is None or unit is None:
        raise NotALength(f"“{text}” is not a length. Type a number such as 12.5, 0.500 in or 1/2 in.")
    value = Decimal(found["number"].replace(",", "."))
    if found["den"]:
        if Decimal(found["den"]) == 0:
            raise NotALength(f"“{text}” divides by zero. Type a number such as 0.500 in or 1/2 in.")
        value = value / Decimal(found["den"])
    if found["whole"]:
        if not found["den"]:
            raise NotALength(f"“{text}” holds two numbers. Type one, such as 12.5 or 1 1/2 in.")
        whole = Decimal(found["whole"])
        value = whole - value if found["whole"].startswith("-") else whole + value
    return Measure(text=text.strip(), value=value, unit=unit or default_unit)
