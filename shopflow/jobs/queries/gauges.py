"""Which gauges resolve a tolerance and reach the size."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.utils.translation import gettext as _

from shopflow.core.measure import Measure
from shopflow.core.quality.kinds import Kind, finest_step, is_shown_by_one_gauge, quantity_of_unit
from shopflow.jobs.models import Characteristic
from shopflow.shop import queries as shop
from shopflow.shop.models import Gauge

MOST_NAMED = 3


def able_gauges(
    finest: Measure | None, gauges: Iterable[Gauge], ends: tuple[Measure | None, Measure | None] = (None, None)
) -> list[Gauge]:
    """Those that resolve so much of the same kind (length, angle, finish) and reach both ends, the coarsest first."""
    if finest is None:
        return []
    able = [gauge for gauge in gauges if _resolves(gauge, finest) and _reaches(gauge, ends)]
    return sorted(able, key=lambda gauge: -gauge.resolution.in_unit(finest.unit) if gauge.resolution else 0)


def gauge_for(lower: Measure | None, upper: Measure | None, *, on: date, kind: str = "") -> Gauge | None:
    """The coarsest gauge in calibration that reaches the size and still resolves a tenth of the tolerance.

    None for form and place: how they are measured is for a person, and a caliper that is fine enough shows no flatness.
    """
    if not is_shown_by_one_gauge(Kind(kind)):
        return None
    finest, ends = finest_step(Kind(kind), lower, upper), _ends(Kind(kind), lower, upper)
    return next(iter(able_gauges(finest, shop.gauges_in_calibration(on), ends)), None)


def gauge_advice(rows: list[Characteristic], *, on: date) -> list[tuple[Characteristic, str]]:
    """For each characteristic without a gauge that resolves it, which ones do, or that none does."""
    advised, gauges = [], list(shop.gauges_in_calibration(on))
    for row in rows:
        finest, ends = finest_step(row.as_kind, row.lower, row.upper), _ends(row.as_kind, row.lower, row.upper)
        if finest is not None and not (row.gauge and able_gauges(finest, [row.gauge], ends)):
            advised.append((row, _advice(row.as_kind, finest, gauges, ends)))
    return advised


def _ends(kind: Kind, lower: Measure | None, upper: Measure | None) -> tuple[Measure | None, Measure | None]:
    """What the gauge has to reach; of form and place it shows a deviation, wherever on the part that is."""
    return (lower, upper) if kind is Kind.SIZE else (None, None)


def _resolves(gauge: Gauge, finest: Measure) -> bool:
    """A micrometer shows no finish, and a protractor no length."""
    resolution = gauge.resolution
    is_alike = resolution is not None and quantity_of_unit(resolution.unit) == quantity_of_unit(finest.unit)
    return is_alike and resolution is not None and resolution.in_unit(finest.unit) <= finest.value


def _reaches(gauge: Gauge, ends: tuple[Measure | None, Measure | None]) -> bool:
    """Where nobody said what a gauge reaches, every size."""
    for end in ends:
        if end is None:
            continue
        if gauge.smallest and end.value < gauge.smallest.in_unit(end.unit):
            return False
        if gauge.largest and end.value > gauge.largest.in_unit(end.unit):
            return False
    return True


def _advice(kind: Kind, finest: Measure, gauges: list[Gauge], ends: tuple[Measure | None, Measure | None]) -> str:
    if not is_shown_by_one_gauge(kind):
        return _("choose what shows a deviation of %s: an indicator on the plate, a measuring machine") % finest
    able = able_gauges(finest, gauges, ends)
    if able:
        named = ", ".join(gauge.number for gauge in able[:MOST_NAMED])
        return _("resolved by %(gauges)s (%(wanted)s, a tenth of the tolerance)") % {"gauges": named, "wanted": finest}
    if able_gauges(finest, gauges):
        said = {"wanted": finest, "size": ends[1] or ends[0]}
        return _("no gauge in calibration that resolves %(wanted)s, a tenth of the tolerance, reaches %(size)s") % said
    return _("no gauge in calibration resolves %s, a tenth of the tolerance") % finest
