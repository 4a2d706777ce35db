"""Nonconforming pieces: what waits for a disposition, what was decided and not carried out, in which lot they are."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import QuerySet, Sum
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.floor.models import Lot, Place
from shopflow.inspection.models import Disposition, Nonconformance
from shopflow.inspection.queries.table import cell
from shopflow.jobs.models import Job, Stage

SCRAP = Disposition.Verdict.SCRAP


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
    decided = _decided(found, SCRAP)
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
