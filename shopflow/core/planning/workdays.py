"""Which days a shop works, and counting by them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

MONDAY_TO_FRIDAY = frozenset(range(1, 6))
LONGEST_CLOSED = 400
"""Days in a row that are looked at before a calendar counts as one that is never worked."""


@dataclass(frozen=True)
class Closed:
    """Days on which the shop is shut though the weekday is worked, both ends among them."""

    first: date
    last: date
    name: str


@dataclass(frozen=True)
class Workdays:
    """weekdays: those that are worked, 1 is Monday (ISO 8601). closed: holidays and other days off."""

    weekdays: frozenset[int] = MONDAY_TO_FRIDAY
    closed: tuple[Closed, ...] = ()

    def is_worked(self, day: date) -> bool:
        return day.isoweekday() in self.weekdays and not self.why_closed(day)

    def why_closed(self, day: date) -> str:
        """Name of the closed days that this one is among; "" where it is none."""
        return next((one.name for one in self.closed if one.first <= day <= one.last), "")

    def after(self, day: date) -> date:
        """The next day that is worked; the day after where none is for more than a year."""
        return next((one for one in _from(day, 1) if self.is_worked(one)), day + timedelta(days=1))

    def before(self, day: date, count: int) -> date:
        """So many worked days earlier; counted over all days where none is worked for more than a year."""
        for _ in range(count):
            day = next((one for one in _from(day, -1) if self.is_worked(one)), day - timedelta(days=1))
        return day

    def late_by(self, due: date, today: date) -> int:
        """Days worked since the day due; 0 while it is not past."""
        return sum(self.is_worked(one) for one in _days(due, today))


def _from(day: date, step: int) -> Iterable[date]:
    return (day + timedelta(days=step * number) for number in range(1, LONGEST_CLOSED + 1))


def _days(after: date, last: date) -> Iterable[date]:
    return (after + timedelta(days=number) for number in range(1, (last - after).days + 1))
