"""Which gauges resolve a tolerance."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.utils.translation import gettext as _

from shopflow.core.measure import Measure
from shopflow.core.quality.kinds import Kind, finest_step, quantity_of_unit
from shopflow.jobs.models import Characteristic
from shopflow.shop import queries as shop
from shopflow.shop.models import Gauge

MOST_NAMED = 3


def able_gauges(finest: Measure | None, gauges: Iterable[Gauge]) -> list[Gauge]:
    """Those that resolve so much of the same kind (lengths, angles, finishes), the coarsest first."""
    if finest is None:
        return []
    able = [gauge for gauge in gauges if _resolves(gauge, finest)]
    return sorted(able, key=lambda gauge: -gauge.resolution.in_unit(finest.unit) if gauge.resolution else 0)


def _is_alike(gauge: Gauge, finest: Measure) -> bool:
    """A micrometer shows no finish, and a protractor no length."""
    return gauge.resolution is not None and quantity_of_unit(gauge.resolution.unit) == quantity_of_unit(finest.unit)


def gauge_for(lower: Measure | None, upper: Measure | None, *, on: date, kind: str = "") -> Gauge | None:
    """The coarsest gauge in calibration that still resolves a tenth of the tolerance."""
    return next(iter(able_gauges(finest_step(Kind(kind), lower, upper), shop.gauges_in_calibration(on))), None)


def gauge_advice(rows: list[Characteristic], *, on: date) -> list[tuple[Characteristic, str]]:
    """For each characteristic without a gauge that resolves it, which ones do, or that none does."""
    advised, gauges = [], list(shop.gauges_in_calibration(on))
    for row in rows:
        finest = finest_step(row.as_kind, row.lower, row.upper)
        if finest is not None and not (row.gauge and _resolves(row.gauge, finest)):
            advised.append((row, _advice(finest, gauges)))
    return advised


def _resolves(gauge: Gauge, finest: Measure) -> bool:
    resolution = gauge.resolution
    return resolution is not None and _is_alike(gauge, finest) and resolution.in_unit(finest.unit) <= finest.value


def _advice(finest: Measure, gauges: list[Gauge]) -> str:
    able = able_gauges(finest, gauges)
    if not able:
        return _("no gauge in calibration resolves %s, a tenth of the tolerance") % finest
    named = ", ".join(gauge.number for gauge in able[:MOST_NAMED])
    return _("resolved by %(gauges)s (%(wanted)s, a tenth of the tolerance)") % {"gauges": named, "wanted": finest}
