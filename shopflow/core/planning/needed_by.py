"""The last day on which a job can start."""

from __future__ import annotations

from datetime import date, timedelta
from math import ceil

DAY_MIN = 7 * 60.0
"""Minutes of a working day that a job gets (common practice, no source)."""
SATURDAY = 5


def latest_start(due: date, minutes: float) -> date:
    """Counted back from the day due over working days, Monday to Friday; at least one day before it."""
    days = max(1, ceil(minutes / DAY_MIN))
    start = due
    while days:
        start -= timedelta(days=1)
        days -= start.weekday() < SATURDAY
    return start
