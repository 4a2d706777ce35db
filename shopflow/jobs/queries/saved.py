"""Who saved something of a job last, for the person who had it open meanwhile."""

from __future__ import annotations

from shopflow.jobs.models import Job
from shopflow.people.models import User
from shopflow.records import ledger

MOST_ROWS = 50


def last_by(job: Job, kind: str, **payload: object) -> User | None:
    """Who did this kind of thing last, with these values in its row of the ledger; None where nobody did lately."""
    rows = ledger.rows_for(job.chain).filter(kind=kind).select_related("by").order_by("-seq")[:MOST_ROWS]
    for row in rows:
        if all(row.data.get(name) == value for name, value in payload.items()):
            return row.by
    return None
