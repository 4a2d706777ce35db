"""How long the pieces of a run took, from when they were reported as done."""

from __future__ import annotations

from datetime import datetime

from shopflow.core.planning import typical_minutes
from shopflow.floor.models import OpRun
from shopflow.records import ledger


def minutes_each(run: OpRun) -> tuple[float, int] | None:
    """Minutes a piece and the pieces counted in this run; None where the counts say nothing."""
    counts: list[tuple[float, int]] = []
    before = run.started_at
    for moment, pieces in _counts(run):
        counts.append(((moment - before).total_seconds() / 60, pieces))
        before = moment
    minutes = typical_minutes(counts)
    return None if minutes is None else (minutes, sum(pieces for _, pieces in counts))


def _counts(run: OpRun) -> list[tuple[datetime, int]]:
    """When pieces were counted, by the clock of the device that said so, since the run began."""
    rows = ledger.rows_for(run.lot.job.chain).filter(
        kind="counted_good", subject_kind="lot", subject_id=run.lot_id, at__gte=run.started_at
    )
    found = []
    for row in rows.order_by("seq"):
        if row.data.get("op") == run.step.op_number:
            said = row.data.get("made_at")
            found.append((max(datetime.fromisoformat(said) if said else row.at, run.started_at), row.data["quantity"]))
    return sorted(found)
