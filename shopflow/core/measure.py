"""A measured or typed length, angle or finish: what was typed is kept, Decimal and unit follow from it exactly."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from shopflow.core.errors import CoreError

MM_PER_IN = Decimal("25.4")
"""Exact by definition since 1959 (international inch)."""

DEGREE = "\u00b0"
MICROMETRE, MICROINCH = "\u00b5m", "\u00b5in"
IN_MM = {"mm": Decimal(1), "in": MM_PER_IN, MICROMETRE: Decimal("0.001"), MICROINCH: Decimal("0.0000254")}
"""A unit of length in millimetres. Angles are in degrees, and are no length."""
_UNITS = {"": "", "mm": "mm", "in": "in", "inch": "in", '"': "in", "″": "in"}
_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_TYPED = re.compile(
    rf"^\s*(?:(?P<whole>[+-]?\d+)[\s-]+)?(?P<number>{_NUMBER})(?:/(?P<den>\d+))?\s*(?P<unit>[a-zA-Z\"″µμ°]*)\s*$"
)
_ALL_UNITS = {
    **_UNITS, DEGREE: DEGREE, "deg": DEGREE, "degree": DEGREE, "degrees": DEGREE,
    MICROMETRE: MICROMETRE, "\u03bcm": MICROMETRE, "um": MICROMETRE,
    MICROINCH: MICROINCH, "\u03bcin": MICROINCH, "uin": MICROINCH,
}  # fmt: skip
_MINUTES = re.compile(r"^\s*(?P<sign>[+-]?)(?P<deg>\d+)\s*°\s*(?P<min>\d+(?:[.,]\d+)?)\s*['′]\s*$")


class NotALength(CoreError):
    """The text is not a length; the sentence says what would be."""


@dataclass(frozen=True)
class Measure:
    """A length as a person typed it; of a characteristic also an angle or a finish.

    text: exactly what was typed. value: the number, exact, in `unit`: "mm" or "in", "µm" or "µin" of a finish, "°".
    """

    text: str
    value: Decimal
    unit: str

    @property
    def mm(self) -> float:
        """The length in millimetres, for computing only; limits compare in Decimal."""
        return float(self.in_unit("mm"))

    def in_unit(self, unit: str) -> Decimal:
        """The exact value in another unit of length; inches from millimetres carry Decimal's 28 digits.

        Raises NotALength between an angle and a length.
        """
        if unit == self.unit:
            return self.value
        if DEGREE in (unit, self.unit):
            raise NotALength(f"“{self.text}” is in {self.unit}, and {unit} is asked for.")
        in_mm = self.value * IN_MM[self.unit]
        return in_mm if unit == "mm" else in_mm / IN_MM[unit]

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
    return _read(text, found, unit or default_unit)


def parse_quantity(text: str, *, default_unit: str) -> Measure:
    """A length as parse reads it, an angle ("45°", "0.5 deg", "0°30'") or a finish ("1.6 µm", "63 µin").

    Raises NotALength, with a sentence for the person, for anything else.
    """
    if minutes := _MINUTES.match(text):
        value = Decimal(minutes["deg"]) + Decimal(minutes["min"].replace(",", ".")) / 60
        return Measure(text.strip(), -value if minutes["sign"] == "-" else value, DEGREE)
    found = _TYPED.match(text)
    unit = _ALL_UNITS.get(found["unit"].lower()) if found else None
    if found is None or unit is None:
        raise NotALength(
            f"“{text}” is not a length. Type a number such as 12.5 or 0.500 in; of an angle 45° or 0°30', of a finish "
            "1.6 µm."
        )
    return _read(text, found, unit or default_unit)


def _read(text: str, found: re.Match[str], unit: str) -> Measure:
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
    return Measure(text=text.strip(), value=value, unit=unit)
