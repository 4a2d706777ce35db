"""Computed lengths as somebody would type them."""

from __future__ import annotations

from decimal import Decimal

from shopflow.core.measure import MM_PER_IN, Measure, parse
from shopflow.people.models import Units

HUNDREDTH = Decimal("0.01")
THOUSANDTH = Decimal("0.001")


def typed_length(length_mm: float, units: str) -> Measure:
    """A computed length as somebody would type it: hundredths of a millimetre, or ten-thousandths of an inch."""
    number = Decimal(str(length_mm))
    value, places = (number / MM_PER_IN, Decimal("0.0001")) if units == Units.INCH else (number, HUNDREDTH)
    return parse(f"{value.quantize(places).normalize():f} {units}", default_unit=units)


def typed_place(length_mm: float, units: str) -> Measure:
    """A coordinate of a named place: ten times finer, or the picture of a tool path would lie beside the part."""
    number = Decimal(str(length_mm))
    value, places = (number / MM_PER_IN, Decimal("0.00001")) if units == Units.INCH else (number, THOUSANDTH)
    value = value.quantize(places).normalize() + 0  # no minus before a zero
    return parse(f"{value:f} {units}", default_unit=units)
