"""How strict the characteristics of a part are sampled, from the lots that were inspected before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from shopflow.core.quality.sampling import Sampling, Severity
from shopflow.core.quality.switching import LotResult, Said, Standing, standing
from shopflow.inspection.models import SampleResult, SeveritySaid
from shopflow.jobs.models import Characteristic, Part

Key = tuple[str, str]
Event = tuple[datetime, int, LotResult | Said]


def key_of(characteristic: Characteristic) -> Key:
    """What follows one another over the orders of a part: the same characteristic, sampled by the same rule."""
    return characteristic.name.strip().casefold(), str(characteristic.rule)


def is_switched(characteristic: Characteristic) -> bool:
    return characteristic.rule.kind is Sampling.AQL


def standings_for(
    part: Part, characteristics: Sequence[Characteristic], begun: Mapping[int, datetime | None]
) -> dict[int, Standing]:
    """By characteristic, in two queries; those that are not sampled by AQL are left out.

    begun: when the lot's first piece was measured; what was decided or said since then holds for later lots.
    """
    switched = [one for one in characteristics if is_switched(one)]
    if not switched:
        return {}
    events = _events(part)
    found = {}
    for one in switched:
        until = begun.get(one.pk)
        mine = [event for at, _n, event in events.get(key_of(one), []) if until is None or at < until]
        found[one.pk] = standing(mine)
    return found


def standing_of(characteristic: Characteristic) -> Standing:
    """For the next lot."""
    return standings_for(characteristic.job.part, [characteristic], {}).get(characteristic.pk, Standing())


def results_of(characteristic: Characteristic) -> list[SampleResult]:
    """Every lot of the part whose sample was decided, newest first."""
    name, rule = key_of(characteristic)
    rows = SampleResult.objects.filter(part=characteristic.job.part, name=name, rule=rule)
    return list(rows.select_related("lot__job").order_by("-pk"))


def words_of(characteristic: Characteristic) -> list[SeveritySaid]:
    """What people said about it, newest first."""
    name, rule = key_of(characteristic)
    rows = SeveritySaid.objects.filter(part=characteristic.job.part, name=name, rule=rule)
    return list(rows.select_related("said_by").order_by("-pk"))


def _events(part: Part) -> dict[Key, list[Event]]:
    found: dict[Key, list[Event]] = {}
    for row in SampleResult.objects.filter(part=part).select_related("lot__job"):
        lot = LotResult(str(row.lot), row.is_accepted, row.measured, row.missed, row.accepted_between)
        found.setdefault((row.name, row.rule), []).append((row.decided_at, row.pk, lot))
    for word in SeveritySaid.objects.filter(part=part):
        said = Said(Severity(word.severity), word.reason)
        found.setdefault((word.name, word.rule), []).append((word.said_at, word.pk, said))
    return {key: sorted(events, key=lambda event: event[:2]) for key, events in found.items()}
