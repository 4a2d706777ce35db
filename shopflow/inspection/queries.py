"""What is measured, what is still open, and the table that the bench page shows."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet, Sum
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.core.quality.sampling import Asked, Severity, asked_of
from shopflow.core.quality.switching import Standing
from shopflow.floor.models import Lot, Place
from shopflow.floor.queries import Waiting, waiting
from shopflow.inspection.limits import Limits, limits_of
from shopflow.inspection.models import Disposition, Measurement, Nonconformance
from shopflow.inspection.switching import standings_for
from shopflow.jobs.models import Characteristic, Job, Stage, Step

SCRAP = Disposition.Verdict.SCRAP
MOST_NAMED = 12


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
        "dispositions__decided_by", "placings__split_lot__parent"
    )


def told_to_the_customer(lot: Lot) -> list[Nonconformance]:
    """Nonconformances whose newest disposition says how the customer was told, oldest first."""
    return [found for found in nonconformances(lot) if any(d.customer_told for d in found.dispositions.all()[:1])]


def undecided() -> QuerySet[Nonconformance]:
    """All that wait for a disposition, oldest first."""
    return Nonconformance.objects.filter(dispositions__isnull=True).select_related("lot__job", "characteristic")


def open_in_job(job: Job) -> int:
    return Nonconformance.objects.filter(lot__job=job, dispositions__isnull=True).count()


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
        value = self.measurement.value if self.measurement else None
        return None if value is None else self.limits.allow(value)


def cell(characteristic: Characteristic, lot: Lot, piece: int) -> Cell:
    """One cell of the table, as it stands now."""
    found = Measurement.objects.filter(characteristic=characteristic, lot=lot, piece=piece).order_by("pk").last()
    size = lot_size(lot, characteristic.step) if characteristic.step else 0
    first = Measurement.objects.filter(characteristic=characteristic, lot=lot).order_by("pk").first()
    begun = {characteristic.pk: first.measured_at if first else None}
    standing = standings_for(lot.job.part, [characteristic], begun).get(characteristic.pk)
    asked = asked_pieces(characteristic, lot, size, standing.severity if standing else Severity.NORMAL)
    is_asked = piece in asked.pieces
    return Cell(characteristic, piece, found, limits_of(characteristic), is_asked)


@dataclass(frozen=True)
class Row:
    """One characteristic over the pieces of a lot."""

    characteristic: Characteristic
    limits: Limits
    cells: list[Cell]
    asked: Asked | None = None
    missed: int = 0
    """Pieces of the sample of which any value was outside the limits, mended since or not."""
    standing: Standing | None = None
    """How strict the sample is and why; None where it is none of AQL."""

    @property
    def is_rejected(self) -> bool:
        """Whether more of a sample missed than its plan accepts: then every piece is measured."""
        plan = self.asked.plan if self.asked else None
        return plan is not None and self.missed >= plan.reject

    @property
    def unmeasured(self) -> list[int]:
        """Pieces here that the plan still wants measured; for one of the lot, all of them until one is."""
        lacking = [cell.piece for cell in self.cells if cell.is_asked and cell.measurement is None]
        if self.asked and self.asked.any_one:
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


def lot_size(lot: Lot, step: Step) -> int:
    """Pieces of the lot that come to a step: those lost before it never do."""
    gone = Q(place__in=[Place.SCRAPPED, Place.LOST], step__op_number__lt=step.op_number)
    rows = lot.standings.exclude(gone).aggregate(sum=Sum("quantity"))
    return rows["sum"] or 0


def table(lot: Lot, step: Step) -> list[Row]:
    """Every characteristic of the step by every piece of the lot, in a few queries."""
    taken: dict[tuple[int, int], list[Measurement]] = {}
    for found in Measurement.objects.filter(lot=lot, characteristic__step=step).order_by("pk"):
        taken.setdefault((found.characteristic_id, found.piece), []).append(found)
    pieces, size = pieces_to_measure(lot, step), lot_size(lot, step)
    asked = list(characteristics_of(step))
    begun = {one.pk: _begun(found for (pk, _piece), found in taken.items() if pk == one.pk) for one in asked}
    standings = standings_for(lot.job.part, asked, begun)
    return [_row(one, lot, pieces, size, taken, standings.get(one.pk)) for one in asked]


def _begun(taken: Iterable[list[Measurement]]) -> datetime | None:
    """When the first piece was measured; what other lots said since then counts from the next lot on."""
    return min((found[0].measured_at for found in taken), default=None)


def asked_pieces(characteristic: Characteristic, lot: Lot, size: int, severity: Severity = Severity.NORMAL) -> Asked:
    """What the plan wants measured of a lot of this size."""
    return asked_of(characteristic.rule, size, seed=f"{lot.pk}/{characteristic.pk}", severity=severity)


def _row(
    characteristic: Characteristic,
    lot: Lot,
    pieces: list[int],
    size: int,
    taken: dict[tuple[int, int], list[Measurement]],
    standing: Standing | None,
) -> Row:
    severity = standing.severity if standing else Severity.NORMAL
    limits, asked = limits_of(characteristic), asked_pieces(characteristic, lot, size, severity)
    values = {piece: taken.get((characteristic.pk, piece), []) for piece in pieces}
    bad = [p for p in asked.pieces if any(not limits.allow(one.value) for one in values.get(p, ()) if one.value)]
    is_rejected = asked.plan is not None and len(bad) >= asked.plan.reject
    cells = [
        Cell(characteristic, piece, found[-1] if found else None, limits, is_rejected or piece in asked.pieces)
        for piece, found in values.items()
    ]
    return Row(characteristic, limits, cells, asked, len(bad), standing)


def results(lot: Lot, *, pieces: Collection[int] | None = None) -> list[Row]:
    """Every characteristic of the job by every measured piece of a lot, in two queries: what reports print.

    pieces: the numbers wanted; None gives all that were measured.
    """
    found = Measurement.objects.filter(lot=lot).select_related("gauge", "measured_by").order_by("pk")
    if pieces is not None:
        found = found.filter(piece__in=pieces)
    values = {(one.characteristic_id, one.piece): one for one in found}
    numbers = sorted({piece for _, piece in values} | set(pieces or ()))
    rows = []
    for characteristic in lot.job.characteristics.order_by("number"):
        limits = limits_of(characteristic)
        cells = [Cell(characteristic, piece, values.get((characteristic.pk, piece)), limits) for piece in numbers]
        rows.append(Row(characteristic, limits, cells))
    return rows


def open_points(lot: Lot, step: Step) -> list[str]:
    """What keeps pieces at this inspection step, each a sentence; empty when nothing does."""
    rows = table(lot, step)
    lacking = [_lacking(row) for row in rows if row.unmeasured or not row.cells]
    problems = [_("Not measured yet: balloon %(balloons)s.") % {"balloons": ", ".join(lacking)}] if lacking else []
    return problems + [_rejected(row) for row in rows if row.is_rejected and row.unmeasured] + unsettled(lot)


def _lacking(row: Row) -> str:
    """The balloon, with the pieces where not every one or any one is meant."""
    if row.asked is None or row.asked.any_one or not row.cells:
        return str(row.characteristic.number)
    named = ", ".join(map(str, row.unmeasured[:MOST_NAMED]))
    more = " …" if len(row.unmeasured) > MOST_NAMED else ""
    return _("%(number)s (piece %(pieces)s)") % {"number": row.characteristic.number, "pieces": named + more}


def _rejected(row: Row) -> str:
    assert row.asked and row.asked.plan
    plan = row.asked.plan
    said = {"number": row.characteristic.number, "bad": row.missed, "size": plan.size, "most": plan.accept}
    return (
        _(
            "Balloon %(number)s: %(bad)s of a sample of %(size)s miss the limits, and the sampling plan accepts "
            "%(most)s: the lot is not accepted. Measure every piece."
        )
        % said
    )


def unsettled(lot: Lot) -> list[str]:
    """What is not settled about nonconforming pieces of a lot: no disposition, or one that was not carried out."""
    found = list(nonconformances(lot))
    undecided = sum(not one.dispositions.all() for one in found)
    said = ngettext(
        "%(count)d nonconformance has no disposition.", "%(count)d nonconformances have no disposition.", undecided
    )
    problems = [said % {"count": undecided}] if undecided else []
    return problems + _not_scrapped(lot, found) + _not_measured_again(lot, found) + [str(one) for one in unplaced(lot)]


@dataclass(frozen=True)
class Unplaced:
    """A nonconformance from before a lot was split off: nobody said yet in which of the two its piece is."""

    found: Nonconformance
    stayed: Lot
    split_lot: Lot

    @property
    def what(self) -> str:
        said = {"piece": self.found.piece, "text": self.found.text}
        return _("piece %(piece)s: %(text)s") % said if self.found.piece else self.found.text

    def __str__(self) -> str:
        said = {"what": self.what, "stayed": self.stayed.number, "went": self.split_lot.number}
        return (
            _(
                "Lot %(went)s was split off lot %(stayed)s, and nobody said in which of them this is (%(what)s). "
                "Say it at the inspection bench."
            )
            % said
        )


def unplaced(lot: Lot) -> list[Unplaced]:
    """What is to be said about the pieces of a lot: of lots split off it, and of the splits that it came from."""
    asked = [one for part in Lot.objects.filter(parent=lot).order_by("number") for one in _unplaced_by(part)]
    origin: Lot | None = lot
    while origin is not None:
        asked += _unplaced_by(origin)
        origin = origin.parent
    return asked


def unplaced_on_the_floor() -> list[Unplaced]:
    """All that is to be said, oldest job first."""
    parts = Lot.objects.filter(parent__nonconformances__isnull=False, job__stage=Stage.FLOOR).distinct()
    return [
        one for part in parts.select_related("job", "parent").order_by("job", "number") for one in _unplaced_by(part)
    ]


def _unplaced_by(part: Lot) -> list[Unplaced]:
    """Nonconformances of the lot from which another was split off, raised before. Pieces already scrapped stayed."""
    stayed = part.parent
    if stayed is None or part.split_at is None:
        return []
    known = nonconformances(stayed).filter(raised_at__lte=part.split_at).exclude(placings__split_lot=part)
    found = list(known)
    scrapped = [] if _not_scrapped(stayed, list(nonconformances(stayed))) else _decided(found, SCRAP)
    return [Unplaced(one, stayed, part) for one in found if one not in scrapped]


def _decided(found: list[Nonconformance], verdict: str) -> list[Nonconformance]:
    return [one for one in found if any(decided.verdict == verdict for decided in one.dispositions.all()[:1])]


def _not_scrapped(lot: Lot, found: list[Nonconformance]) -> list[str]:
    """Pieces that are to be scrapped and still count as good."""
    decided = _decided(found, Disposition.Verdict.SCRAP)
    to_scrap = len({one.piece for one in decided if one.piece}) + sum(one.piece is None for one in decided)
    scrapped = lot.standings.filter(place=Place.SCRAPPED).aggregate(sum=Sum("quantity"))["sum"] or 0
    if to_scrap <= scrapped:
        return []
    said = {"wanted": to_scrap, "done": scrapped}
    return [_("%(wanted)s pieces are to be scrapped and %(done)s are reported scrapped. Report the others.") % said]


def _not_measured_again(lot: Lot, found: list[Nonconformance]) -> list[str]:
    """Pieces that were to be reworked and have no good value since, in the lot where they are now."""
    again = []
    for one in _decided(found, Disposition.Verdict.REWORK):
        if one.characteristic and one.piece and not cell(one.characteristic, lot, one.piece).is_good:
            again.append(
                _("balloon %(number)s of piece %(piece)s") % {"number": one.characteristic.number, "piece": one.piece}
            )
    return [_("To be measured again after rework: %(which)s.") % {"which": ", ".join(again)}] if again else []


def untold(lot: Lot) -> list[Nonconformance]:
    """Pieces used as they are, of which nobody noted how the customer was told."""
    used = _decided(list(nonconformances(lot)), Disposition.Verdict.USE_AS_IS)
    return [one for one in used if not one.dispositions.all()[0].customer_told]
