"""The table of values of a lot: each characteristic by each piece, and which of them the plan asks for."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import QuerySet, Sum

from shopflow.core.quality.sampling import Asked
from shopflow.core.quality.switching import Standing
from shopflow.floor.models import Lot
from shopflow.inspection.limits import Limits, limits_of
from shopflow.inspection.models import Measurement
from shopflow.inspection.queries.gauges import gauges_in_use
from shopflow.inspection.queries.sampled import Sampled, sampled_of
from shopflow.jobs.models import Characteristic, Step
from shopflow.shop.models import Gauge


def newest(characteristic: Characteristic, lot: Lot, piece: int) -> Measurement:
    """The value that counts; raises Measurement.DoesNotExist where none was taken."""
    return Measurement.objects.filter(characteristic=characteristic, lot=lot, piece=piece).latest("pk")


def characteristics_of(step: Step) -> QuerySet[Characteristic]:
    return step.characteristics.select_related("gauge").order_by("number")


@dataclass(frozen=True)
class Cell:
    """One value of the table: the newest measurement of a piece, or None. is_asked: the plan wants it measured."""

    characteristic: Characteristic
    piece: int
    measurement: Measurement | None
    limits: Limits
    is_asked: bool = True

    @property
    def is_good(self) -> bool | None:
        return None if self.measurement is None else self.measurement.is_within(self.limits)


def cell(characteristic: Characteristic, lot: Lot, piece: int) -> Cell:
    """One cell of the table, as it stands now."""
    found = Measurement.objects.filter(characteristic=characteristic, lot=lot, piece=piece).order_by("pk").last()
    asked = sampled_of(lot, [characteristic])[characteristic.pk].asked
    return Cell(characteristic, piece, found, limits_of(characteristic), piece in asked.pieces)


@dataclass(frozen=True)
class Row:
    """One characteristic over the pieces of a lot."""

    characteristic: Characteristic
    limits: Limits
    cells: list[Cell]
    sampled: Sampled
    gauge: Gauge | None = None
    missed: int = 0
    """Pieces of the sample of which any value was outside the limits, mended since or not."""

    @property
    def asked(self) -> Asked:
        return self.sampled.asked

    @property
    def standing(self) -> Standing | None:
        """How strict the sample is and why; None where it is none of AQL."""
        return self.sampled.standing

    @property
    def is_rejected(self) -> bool:
        """Whether more of a sample missed than its plan accepts: then every piece is measured."""
        plan = self.asked.plan
        return plan is not None and self.missed >= plan.reject

    @property
    def unmeasured(self) -> list[int]:
        """Pieces here that the plan still wants measured; for one of the lot, all of them until one is."""
        lacking = [cell.piece for cell in self.cells if cell.is_asked and cell.measurement is None]
        if self.asked.any_one:
            return lacking if all(cell.measurement is None for cell in self.cells) else []
        return lacking


def pieces_to_measure(lot: Lot, step: Step) -> list[int]:
    """Piece numbers of the lot that stand at the step: 1 … n, and those measured before, so that no value is hidden.

    A piece that came along from the lot it was split from, with a nonconformance, keeps its number.
    """
    arrived = arrived_at(lot, step)
    measured = set(Measurement.objects.filter(lot=lot, characteristic__step=step).values_list("piece", flat=True))
    of_pieces = lot.nonconformances.filter(characteristic__step=step, piece__isnull=False)
    came = {piece for piece in of_pieces.values_list("piece", flat=True) if piece}
    return sorted(measured | came | set(range(1, max(arrived, len(measured)) + 1)))


def arrived_at(lot: Lot, step: Step) -> int:
    """Pieces of the lot that have come to a step so far, those that went on or were scrapped since among them."""
    rows = lot.standings.filter(step__op_number__gte=step.op_number).aggregate(sum=Sum("quantity"))
    return rows["sum"] or 0


def table(lot: Lot, step: Step) -> list[Row]:
    """Every characteristic of the step by every piece of the lot, in a few queries."""
    taken: dict[tuple[int, int], list[Measurement]] = {}
    for found in Measurement.objects.filter(lot=lot, characteristic__step=step).order_by("pk"):
        taken.setdefault((found.characteristic_id, found.piece), []).append(found)
    pieces, rows = pieces_to_measure(lot, step), list(characteristics_of(step))
    sampled, gauges = sampled_of(lot, rows), gauges_in_use(lot, rows)
    return [
        _row(row, sampled[row.pk], gauges[row.pk], {piece: taken.get((row.pk, piece), []) for piece in pieces})
        for row in rows
    ]


def _row(
    characteristic: Characteristic, sampled: Sampled, gauge: Gauge | None, values: dict[int, list[Measurement]]
) -> Row:
    """values: by piece, oldest first."""
    limits, asked = limits_of(characteristic), sampled.asked
    bad = [p for p in asked.pieces if any(not one.is_within(limits) for one in values.get(p, ()))]
    is_rejected = asked.plan is not None and len(bad) >= asked.plan.reject
    cells = [
        Cell(characteristic, piece, found[-1] if found else None, limits, is_rejected or piece in asked.pieces)
        for piece, found in values.items()
    ]
    return Row(characteristic, limits, cells, sampled, gauge, len(bad))


def results(lot: Lot, *, pieces: Collection[int] | None = None) -> list[Row]:
    """Every characteristic of the job by every measured piece of a lot, in a few queries: what reports print.

    pieces: the numbers wanted; None gives all that were measured.
    """
    found = Measurement.objects.filter(lot=lot).select_related("gauge", "measured_by").order_by("pk")
    if pieces is not None:
        found = found.filter(piece__in=pieces)
    values = {(one.characteristic_id, one.piece): one for one in found}
    numbers = sorted({piece for _, piece in values} | set(pieces or ()))
    rows = list(lot.job.characteristics.select_related("step").order_by("number"))
    sampled = sampled_of(lot, rows)
    return [_result(row, sampled[row.pk], {piece: values.get((row.pk, piece)) for piece in numbers}) for row in rows]


def _result(characteristic: Characteristic, sampled: Sampled, values: dict[int, Measurement | None]) -> Row:
    limits = limits_of(characteristic)
    cells = [Cell(characteristic, piece, found, limits) for piece, found in values.items()]
    return Row(characteristic, limits, cells, sampled)
