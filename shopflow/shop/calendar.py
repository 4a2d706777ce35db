"""The days that the shop works, as its own facts and its table of closed days say."""

from __future__ import annotations

from datetime import date

from django.utils import timezone

from shopflow.core.planning import Closed, Workdays
from shopflow.people import queries as people
from shopflow.shop.models import ClosedDay


def workdays() -> Workdays:
    """Asked anew each time: two small queries."""
    week = frozenset(int(one) for one in people.shop_settings().worked_days)
    rows = ClosedDay.objects.all()
    return Workdays(week, tuple(Closed(row.day, row.last or row.day, row.name) for row in rows))


def next_workday(day: date | None = None) -> date:
    """The one after this day, or after today."""
    return workdays().after(day or timezone.localdate())
