"""With which gauge each characteristic of a lot is measured: the plan's, or the one that was taken at the bench."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.floor.models import Lot
from shopflow.inspection.models import GaugeTaken
from shopflow.jobs.models import Characteristic
from shopflow.shop.models import Gauge


def gauges_in_use(lot: Lot, characteristics: Sequence[Characteristic]) -> dict[int, Gauge | None]:
    """By characteristic, in one query; the newest one taken for this lot goes before the plan's."""
    rows = GaugeTaken.objects.filter(lot=lot, characteristic__in=characteristics).select_related("gauge").order_by("pk")
    taken = {row.characteristic_id: row.gauge for row in rows}
    return {one.pk: taken.get(one.pk, one.gauge) for one in characteristics}


def gauge_in_use(lot: Lot, characteristic: Characteristic) -> Gauge | None:
    return gauges_in_use(lot, [characteristic])[characteristic.pk]
