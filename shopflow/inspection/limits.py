"""The limits of a characteristic, compared exactly: Decimal, in the unit of the drawing (design 4.8)."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from shopflow.core.measure import DEGREE, Measure
from shopflow.core.quality.kinds import Kind, unit_of
from shopflow.jobs.models import Characteristic


@dataclass(frozen=True)
class Limits:
    """Lower and upper limit in `unit`; None where there is none. An attribute has neither: a piece conforms or not."""

    lower: Decimal | None
    upper: Decimal | None
    unit: str
    is_attribute: bool = False

    def allow(self, value: Measure) -> bool:
        """Whether the value lies within the limits, which are themselves good."""
        exact = value.in_unit(self.unit)
        return (self.lower is None or exact >= self.lower) and (self.upper is None or exact <= self.upper)

    def __str__(self) -> str:
        if self.is_attribute:
            return _("conforms")
        ends = (f"{end}" if end is not None else "" for end in (self.lower, self.upper))
        return f"{' … '.join(ends)}{'' if self.unit == DEGREE else ' '}{self.unit}".strip()


def limits_of(characteristic: Characteristic) -> Limits:
    """As typed on the plan; limits in another unit than the nominal are converted exactly."""
    if characteristic.as_kind is Kind.ATTRIBUTE:
        return Limits(None, None, "", is_attribute=True)
    named = [m for m in (characteristic.nominal, characteristic.lower, characteristic.upper) if m]
    unit = named[0].unit if named else unit_of(characteristic.as_kind, "mm")
    lower = characteristic.lower.in_unit(unit) if characteristic.lower else None
    upper = characteristic.upper.in_unit(unit) if characteristic.upper else None
    return Limits(lower, upper, unit)
