"""What the saw does to the rack. The desk changes rows of it through shop.actions, as any table."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.measure import Measure
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop.models import StockBar

CENT = Decimal("0.01")
LONGEST_NUMBER = StockBar._meta.get_field("number").max_length or 30


@transaction.atomic
def take_off(bar: StockBar, count: int, *, by: User) -> StockBar:
    """Bars that were sawn leave the rack. The caller says who may. Raises NotPossible where there are fewer."""
    now = StockBar.objects.select_for_update().get(pk=bar.pk)
    if now.on_hand < count:
        raise NotPossible(
            _("%(bar)s: %(there)d on the rack, %(asked)d to be sawn. Count the rack and correct it first.")
            % {"bar": now, "there": now.on_hand, "asked": count}
        )
    now.on_hand -= count
    now.save(update_fields=["on_hand"])
    ledger.append("bars_taken", chain=ledger.SHOP, subject=("bar", now.pk), by=by, count=count, left=now.on_hand)
    return now


@transaction.atomic
def put_back(bar: StockBar, length: Measure, count: int, *, place: str, by: User) -> StockBar:
    """Remnants of a bar, of one length, as a row of their own: same size, heat and owner, its end sawn, and worth
    their share of the bar's price, since what was sawn off paid for the rest."""
    price = None
    if bar.price is not None and bar.length:
        price = (bar.price * length.in_unit("mm") / bar.length.in_unit("mm")).quantize(CENT)
    row = _copy(bar, "R", length=length, on_hand=count, place=place, remnant=True, price=price)
    ledger.append("remnant_kept", chain=ledger.SHOP, subject=("bar", row.pk), by=by, count=count, of=bar.pk)
    return row


@transaction.atomic
def receive(bar: StockBar, count: int, *, heat_number: str, place: str, by: User) -> StockBar:
    """Bars that were bought, as a row of their own, since each delivery has its own heat."""
    row = _copy(bar, "D", on_hand=count, heat_number=heat_number, place=place, remnant=False)
    ledger.append("bars_received", chain=ledger.SHOP, subject=("bar", row.pk), by=by, count=count)
    return row


def _copy(bar: StockBar, letter: str, **changes: object) -> StockBar:
    row = StockBar.objects.get(pk=bar.pk)
    row.pk, row._state.adding = None, True
    for name, value in {**changes, "number": _free_number(bar.number, letter), "note": ""}.items():
        setattr(row, name, value)
    row.full_clean()
    row.save()
    return row


def _free_number(number: str, letter: str) -> str:
    """The bar's number with a letter and a running figure; a remnant of a remnant keeps the first bar's number."""
    stem = number.split(f"-{letter}")[0]
    taken = set(StockBar.objects.filter(number__startswith=stem[: LONGEST_NUMBER - 5]).values_list("number", flat=True))
    place = 1
    while (made := f"{stem[: LONGEST_NUMBER - 1 - len(f'{letter}{place}')]}-{letter}{place}") in taken:
        place += 1
    return made
