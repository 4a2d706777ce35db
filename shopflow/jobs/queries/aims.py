"""Where to aim when a print's limits lie to one side of the nominal size that the model is drawn at."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shopflow.core.measure import Measure, parse_quantity
from shopflow.jobs.models import Characteristic

ASIDE = Decimal("0.25")
"""A nominal further than this share of the tolerance from its middle lies aside (ours: a quarter is half the way to a
limit, where a program that cuts the model as drawn leaves half of the room)."""
_PLACES = Decimal("0.00001")


@dataclass(frozen=True)
class Aim:
    """A characteristic whose nominal lies aside of its limits' middle. middle: in the nominal's unit."""

    characteristic: Characteristic
    middle: Measure


def aims_of(characteristics: list[Characteristic]) -> list[Aim]:
    """Those whose limits lie to one side: cut to the model's nominal they would be near a limit, or past it."""
    return [Aim(row, middle) for row in characteristics if (middle := _middle(row))]


def _middle(row: Characteristic) -> Measure | None:
    if not (row.nominal and row.lower and row.upper):
        return None
    unit = row.nominal.unit
    nominal, lower, upper = (value.in_unit(unit) for value in (row.nominal, row.lower, row.upper))
    middle = (lower + upper) / 2
    if abs(nominal - middle) <= ASIDE * (upper - lower):
        return None
    return parse_quantity(f"{middle.quantize(_PLACES).normalize():f} {unit}", default_unit=unit)
