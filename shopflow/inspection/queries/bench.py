"""What waits at the bench, and what keeps pieces there."""

from __future__ import annotations

from django.db.models import Q
from django.utils.translation import gettext as _

from shopflow.floor.models import Lot
from shopflow.floor.queries import Waiting, waiting
from shopflow.inspection.queries.nonconforming import unsettled
from shopflow.inspection.queries.table import Row, table
from shopflow.jobs.models import Step

MOST_NAMED = 12


def at_bench() -> list[Waiting]:
    """Pieces that stand at an inspection step, due soonest first."""
    return waiting(Q(step__kind=Step.Kind.INSPECT))


def open_points(lot: Lot, step: Step) -> list[str]:
    """What keeps pieces at this inspection step, each a sentence; empty when nothing does."""
    rows = table(lot, step)
    lacking = [_lacking(row) for row in rows if row.unmeasured or not row.cells]
    problems = [_("Not measured yet: balloon %(balloons)s.") % {"balloons": ", ".join(lacking)}] if lacking else []
    return problems + [_rejected(row) for row in rows if row.is_rejected and row.unmeasured] + unsettled(lot)


def _lacking(row: Row) -> str:
    """The balloon, with the pieces where not every one or any one is meant."""
    if row.asked.any_one or not row.cells:
        return str(row.characteristic.number)
    named = ", ".join(map(str, row.unmeasured[:MOST_NAMED]))
    more = " …" if len(row.unmeasured) > MOST_NAMED else ""
    return _("%(number)s (piece %(pieces)s)") % {"number": row.characteristic.number, "pieces": named + more}


def _rejected(row: Row) -> str:
    plan = row.asked.plan
    assert plan
    said = {"number": row.characteristic.number, "bad": row.missed, "size": plan.size, "most": plan.accept}
    return (
        _(
            "Balloon %(number)s: %(bad)s of a sample of %(size)s miss the limits, and the sampling plan accepts "
            "%(most)s: the lot is not accepted. Measure every piece."
        )
        % said
    )
