"""Which pieces of a lot the plan asks for, and by which sampling plan: as it was kept, once the sample has decided."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Min, Q, Sum

from shopflow.core.quality.sampling import Asked, Severity, asked_of
from shopflow.core.quality.switching import Standing
from shopflow.floor.models import Lot, Place
from shopflow.inspection.models import Measurement, SampleResult
from shopflow.inspection.switching import is_switched, standings_for
from shopflow.jobs.models import Characteristic, Part, Step


@dataclass(frozen=True)
class Sampled:
    """What is measured of one characteristic in one lot. lot_size: pieces that the sample is drawn from.

    standing: how strict it is and why; None where it is none of AQL. result: what the sample said at its first
    inspection; its numbers hold from then on, whatever later lots or tables say.
    """

    asked: Asked
    lot_size: int
    standing: Standing | None = None
    result: SampleResult | None = None


def sampled_of(lot: Lot, characteristics: Sequence[Characteristic]) -> dict[int, Sampled]:
    """By characteristic, in a few queries however many there are."""
    sizes = {step.pk: lot_size(lot, step) for step in {one.step for one in characteristics if one.step}}
    standings = _standings(lot, [one for one in characteristics if is_switched(one)])
    results = {row.characteristic_id: row for row in lot.sample_results.all()} if standings else {}
    return {
        one.pk: _sampled(one, lot, sizes.get(one.step_id or 0, 0), standings.get(one.pk), results.get(one.pk))
        for one in characteristics
    }


def sampled_next(part: Part, characteristics: Sequence[Characteristic], size: int) -> dict[int, Sampled]:
    """The same for a lot of this size that is not on the floor yet, as the lots before it have it today."""
    standings = standings_for(part, characteristics, {})
    severities = {pk: standing.severity for pk, standing in standings.items()}
    return {
        one.pk: Sampled(
            asked_of(one.rule, size, severity=severities.get(one.pk, Severity.NORMAL)), size, standings.get(one.pk)
        )
        for one in characteristics
    }


def _standings(lot: Lot, switched: Sequence[Characteristic]) -> dict[int, Standing]:
    """How strict each is: what other lots said since its own first piece was measured counts from the next lot on."""
    if not switched:
        return {}
    taken = Measurement.objects.filter(lot=lot, characteristic__in=switched)
    begun = dict(taken.values_list("characteristic").annotate(Min("measured_at")))
    return standings_for(lot.job.part, switched, begun)


def _sampled(
    row: Characteristic, lot: Lot, size: int, standing: Standing | None, result: SampleResult | None
) -> Sampled:
    seed, severity = f"{lot.pk}/{row.pk}", standing.severity if standing else Severity.NORMAL
    kept = result.plan if result else None
    if result is None or kept is None or result.lot_size is None:
        return Sampled(asked_of(row.rule, size, seed=seed, severity=severity), size, standing, result)
    return Sampled(asked_of(row.rule, result.lot_size, seed=seed, plan=kept), result.lot_size, standing, result)


def lot_size(lot: Lot, step: Step) -> int:
    """Pieces of the lot that come to a step: those lost before it never do."""
    gone = Q(place__in=[Place.SCRAPPED, Place.LOST], step__op_number__lt=step.op_number)
    rows = lot.standings.exclude(gone).aggregate(sum=Sum("quantity"))
    return rows["sum"] or 0
