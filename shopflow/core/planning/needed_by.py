"""The last day on which a job can start."""

from __future__ import annotations

from datetime import date
from math import ceil

from shopflow.core.planning.workdays import Workdays

DAY_MIN = 7 * 60.0
"""Minutes of a working day that a job gets (common practice, no source)."""


def latest_start(due: date, minutes: float, workdays: Workdays | None = None) -> date:
    """Counted back from the day due over the days that are worked, Monday to Friday where nobody says; at least one."""
    return (workdays or Workdays()).before(due, max(1, ceil(minutes / DAY_MIN)))
