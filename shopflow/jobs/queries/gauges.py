"""Which gauges resolve a tolerance."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from shopflow.core.measure import Measure
from shopflow.jobs.models import Characteristic
from shopflow.shop import queries as shop
from shopflow.shop.models import Gauge

RESOLVES = 10
"""A gauge resolves a tenth of the tolerance (common practice, no source)."""
MOST_NAMED = 3


def able_gauges(lower: Measure | None, upper: Measure | None, *, on: date) -> list[Gauge]:
    """Gauges in calibration that resolve a tenth of the tolerance, the coarsest first; none without both limits."""
    finest = finest_mm(lower, upper)
    return _able(finest, shop.gauges_in_calibration(on)) if finest is not None else []


def _able(finest: Decimal, gauges: Iterable[Gauge]) -> list[Gauge]:
    sizes = [(gauge.resolution.in_unit("mm"), gauge) for gauge in gauges if gauge.resolution]
    able = [(size, gauge) for size, gauge in sizes if size <= finest]
    return [gauge for _size, gauge in sorted(able, key=lambda pair: -pair[0])]


def finest_mm(lower: Measure | None, upper: Measure | None) -> Decimal | None:
    """The resolution that the tolerance asks for."""
    return (upper.in_unit("mm") - lower.in_unit("mm")) / RESOLVES if lower and upper else None


def gauge_for(lower: Measure | None, upper: Measure | None, *, on: date) -> Gauge | None:
    """The coarsest gauge in calibration that still resolves a tenth of the tolerance."""
    return next(iter(able_gauges(lower, upper, on=on)), None)


def gauge_advice(rows: list[Characteristic], *, on: date) -> list[tuple[Characteristic, str]]:
    """For each characteristic without a gauge that resolves it, which ones do, or that none does."""
    advised, gauges = [], list(shop.gauges_in_calibration(on))
    for row in rows:
        finest = finest_mm(row.lower, row.upper)
        resolution = row.gauge.resolution if row.gauge else None
        if finest is not None and (resolution is None or resolution.in_unit("mm") > finest):
            advised.append((row, _advice(row, finest, _able(finest, gauges))))
    return advised


def _advice(row: Characteristic, finest: Decimal, able: list[Gauge]) -> str:
    unit = row.nominal.unit if row.nominal else "mm"
    wanted = f"{(finest if unit == 'mm' else finest / Decimal('25.4')):.5f}".rstrip("0").rstrip(".") + f" {unit}"
    if not able:
        return _("no gauge in calibration resolves %s, a tenth of the tolerance") % wanted
    named = ", ".join(gauge.number for gauge in able[:MOST_NAMED])
    return _("resolved by %(gauges)s (%(wanted)s, a tenth of the tolerance)") % {"gauges": named, "wanted": wanted}
