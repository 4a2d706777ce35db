"""Moving pieces from one place to another, so that none is lost and none is made.

Every report of the floor ends here. The sum of a lot's standings is released + added − given, before and after.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import F, Sum
from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError
from shopflow.floor.models import Lot, Place, Standing
from shopflow.jobs.models import Step


class NotThere(CoreError):
    """More pieces were reported than stand there; the text says how many do."""


@dataclass(frozen=True)
class Spot:
    """A place where pieces of a lot are counted."""

    place: Place
    step: Step

    def __str__(self) -> str:
        op = _("op %(number)s") % {"number": self.step.op_number}
        return op if self.place == Place.STEP else f"{self.place.label}, {op}"

    @property
    def data(self) -> dict[str, object]:
        """What the ledger keeps of it."""
        return {"place": self.place.value, "step": self.step.pk, "op": self.step.op_number}


def at(step: Step) -> Spot:
    return Spot(Place.STEP, step)


def put(lot: Lot, quantity: int, spot: Spot) -> None:
    """Add pieces to a spot; the caller took them from somewhere or counted them in, and holds the job's chain."""
    there = Standing.objects.filter(lot=lot, place=spot.place, step=spot.step)
    if not there.update(quantity=F("quantity") + quantity):
        Standing.objects.create(lot=lot, place=spot.place, step=spot.step, quantity=quantity)


def take(lot: Lot, quantity: int, spot: Spot) -> None:
    """Take pieces from a spot in one filtered update: two reports at once cannot both have the last piece."""
    there = Standing.objects.filter(lot=lot, place=spot.place, step=spot.step)
    if not there.filter(quantity__gte=quantity).update(quantity=F("quantity") - quantity):
        raise NotThere(
            _("%(asked)s pieces were reported, and %(there)s of lot %(lot)s stand at %(spot)s. Count again.")
            % {"asked": quantity, "there": count(lot, spot), "lot": lot.number, "spot": spot}
        )


def move(lot: Lot, quantity: int, source: Spot, target: Spot) -> None:
    take(lot, quantity, source)
    put(lot, quantity, target)


def count(lot: Lot, spot: Spot) -> int:
    standing = Standing.objects.filter(lot=lot, place=spot.place, step=spot.step).first()
    return standing.quantity if standing else 0


def total(lot: Lot) -> int:
    return Standing.objects.filter(lot=lot).aggregate(sum=Sum("quantity"))["sum"] or 0


def is_conserved(lot: Lot) -> bool:
    """released + added = standing + outside + scrapped + lost + shipped − returned (returned pieces stand again)."""
    return total(lot) == lot.released + lot.added - lot.given
