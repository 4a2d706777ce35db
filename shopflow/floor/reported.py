"""When a report was made, which may be long before it arrives: a station goes on without a network.

Which report it is does not matter here, so the time travels beside the actions instead of through each of them: the
delivery (floor.delivery) names it for the length of one report, the ledger row keeps it as the device said it, and
whoever shows or uses it asks here whether it can be true.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime, timedelta

from django.utils import timezone

LONGEST_AWAY = timedelta(days=7)
CLOCKS_DIFFER = timedelta(minutes=1)
WORTH_SAYING = timedelta(minutes=1)

_made_at: ContextVar[datetime | None] = ContextVar("made_at", default=None)


@contextmanager
def made_at(moment: datetime | None) -> Iterator[None]:
    """All reports within were made at this time by their device's clock; None where no device says so."""
    before = _made_at.set(moment)
    try:
        yield
    finally:
        _made_at.reset(before)


def can_be_true(moment: datetime, *, arrived: datetime) -> bool:
    """Not after it arrived, but for a little between two clocks, and not longer ago than a device is ever away."""
    return -CLOCKS_DIFFER <= arrived - moment <= LONGEST_AWAY


def moment(*, not_before: datetime | None = None) -> datetime:
    """The time to note for what is reported: when it was made, where that can be true, else now.

    not_before: what must have happened earlier (the start of a run before its end).
    """
    now, said = timezone.now(), _made_at.get()
    found = min(said, now) if said and can_be_true(said, arrived=now) else now
    return max(found, not_before) if not_before else found


def payload() -> dict[str, datetime]:
    """What the ledger row keeps of it: unjudged, so that the same report sent again says the same."""
    said = _made_at.get()
    return {"made_at": said} if said else {}


def made_earlier(said: str | None, *, arrived: datetime) -> datetime | None:
    """When a ledger row's report was made, where that was noticeably before it arrived and can be true."""
    found = datetime.fromisoformat(said) if said else None
    if found is None or not can_be_true(found, arrived=arrived) or arrived - found < WORTH_SAYING:
        return None
    return found
