"""What is measured, what is still open, and the table that the bench page shows."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.floor.models import Lot
from shopflow.floor.queries import Waiting, standing_at, waiting
from shopflow.inspection.limits import Limits, limits_of
from shopflow.inspection.models import Measurement, Nonconformance
from shopflow.jobs.models import Characteristic, Job, Step


def newest(characteristic: Characteristic, lot: Lot, piece: int) -> Measurement:
    """The value that counts; raises Measurement.DoesNotExist where none was taken."""
    return Measurement.objects.filter(characteristic=characteristic, lot=lot, piece=piece).latest("pk")


def at_bench() -> list[Waiting]:
    """Pieces that stand at an inspection step, due soonest first."""
    return waiting(Q(step__kind=Step.Kind.INSPECT))


def characteristics_of(step: Step) -> QuerySet[Characteristic]:
    return step.characteristics.select_related("gauge").order_by("number")


def open_nonconformances(lot: Lot) -> QuerySet[Nonconformance]:
    return lot.nonconformances.filter(dispositions__isnull=True).select_related("characteristic")


def nonconformances(lot: Lot) -> QuerySet[Nonconformance]:
    return lot.nonconformances.select_related("characteristic", "raised_by").prefetch_related(
        "dispositions__decided_by"
    )


def undecided() -> QuerySet[Nonconformance]:
    """All that wait for a disposition, oldest first."""
    return Nonconformance.objects.filter(dispositions__isnull=True).select_related("lot__job", "characteristic")


def open_in_job(job: Job) -> int:
    return Nonconformance.objects.filter(lot__job=job, dispositions__isnull=True).count()


@dataclass(frozen=True)
class Cell:
    """One value of the table: the newest measurement of a piece, or None."""

    characteristic: Characteristic
    piece: int
    measurement: Measurement | None
    limits: Limits

    @property
    def is_good(self) -> bool | None:
        value = self.measurement.value if self.measurement else None
        return None if value is None else self.limits.allow(value)


def cell(characteristic: Characteristic, lot: Lot, piece: int) -> Cell:
    """One cell of the table, as it stands now."""
    found = Measurement.objects.filter(characteristic=characteristic, lot=lot, piece=piece).order_by("pk").last()
    return Cell(characteristic, piece, found, limits_of(characteristic))


@dataclass(frozen=True)
class Row:
    """One characteristic over the pieces of a lot."""

    characteristic: Characteristic
    limits: Limits
    cells: list[Cell]


def pieces_to_measure(lot: Lot, step: Step) -> list[int]:
    """Piece numbers of the lot that stand at the step: 1 … n, and those measured before, so that no value is hidden."""
    standing = standing_at(lot, step)
    measured = set(Measurement.objects.filter(lot=lot, characteristic__step=step).values_list("piece", flat=True))
    return sorted(measured | set(range(1, max(standing, len(measured)) + 1)))


def table(lot: Lot, step: Step) -> list[Row]:
    """Every characteristic of the step by every piece of the lot, in two queries."""
    values = {}
    for found in Measurement.objects.filter(lot=lot, characteristic__step=step).order_by("pk"):
        values[found.characteristic_id, found.piece] = found
    pieces = pieces_to_measure(lot, step)
    rows = []
    for characteristic in characteristics_of(step):
        limits = limits_of(characteristic)
        cells = [Cell(characteristic, piece, values.get((characteristic.pk, piece)), limits) for piece in pieces]
        rows.append(Row(characteristic, limits, cells))
    return rows


def open_points(lot: Lot, step: Step) -> list[str]:
    """What keeps pieces at this inspection step, each a sentence; empty when nothing does."""
    problems = []
    unmeasured = [
        row.characteristic.number for row in table(lot, step) if all(c.measurement is None for c in row.cells)
    ]
    if unmeasured:
        balloons = ", ".join(map(str, unmeasured))
        problems.append(_("Not measured yet: balloon %(balloons)s.") % {"balloons": balloons})
    undecided = open_nonconformances(lot).count()
    if undecided:
        said = ngettext(
            "%(count)d nonconformance has no disposition.", "%(count)d nonconformances have no disposition.", undecided
        )
        problems.append(said % {"count": undecided})
    return problems
