"""Pieces that leave for the customer, and those that come back."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Max

from shopflow.floor.actions.reports import positive, report
from shopflow.floor.models import Lot, Place, Shipment
from shopflow.floor.moving import Spot, at, move
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records.models import LedgerRow


@transaction.atomic
def ship(lot: Lot, quantity: int, *, by: User, note: str = "", key: str | None = None) -> Shipment:
    """Pieces standing at the ship step leave for the customer; the gate is workflow's."""
    require(by, Act.SHIP)
    positive(quantity)
    row = report("shipped", lot, by=by, key=key, quantity=quantity, text=note)
    if row.repeated:
        return lot.shipments.latest("pk")
    last = lot.job.steps.order_by("-op_number")[0]
    move(lot, quantity, at(last), Spot(Place.SHIPPED, last))
    number = (lot.job.shipments.aggregate(last=Max("number"))["last"] or 0) + 1
    return Shipment.objects.create(job=lot.job, number=number, lot=lot, quantity=quantity, note=note, shipped_by=by)


@transaction.atomic
def take_back(lot: Lot, quantity: int, *, reason: str, by: User, key: str | None = None) -> LedgerRow:
    """The customer returned pieces; they are held at the last step until somebody decides."""
    require(by, Act.SHIP)
    positive(quantity)
    row = report("returned", lot, by=by, key=key, quantity=quantity, text=reason)
    if not row.repeated:
        last = lot.job.steps.order_by("-op_number")[0]
        move(lot, quantity, Spot(Place.SHIPPED, last), Spot(Place.HELD, last))
    return row
