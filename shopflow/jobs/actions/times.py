"""What lots took at their ops: told from the floor, kept for the next plan."""

from __future__ import annotations

from decimal import Decimal

from shopflow.core import planning
from shopflow.jobs import queries
from shopflow.jobs.models import SetUpTaken, Step, TimeTaken
from shopflow.shop.models import Machine

HUNDREDTH = Decimal("0.01")


def note_time_taken(step: Step, *, lot: int, machine: Machine | None, minutes_each: float, pieces: int) -> None:
    """Keep what a lot took at a milled op, over what was noted of it before. Part of the report that ends the op, whose
    ledger row says who reported and when; without a machine it says nothing about one."""
    setup = step.setup
    if setup is None or machine is None:
        return
    planned = queries.plain_minutes_of(setup)
    material = step.job.material
    said = {
        "machine": machine,
        "group": material.group if material else "",
        "pieces": pieces,
        "planned": planned.quantize(HUNDREDTH) if planned is not None else None,
        "actual": _hundredths(minutes_each),
    }
    TimeTaken.objects.update_or_create(step=step, lot=lot, defaults=said)


def note_set_up_taken(step: Step, *, lot: int, minutes: float) -> None:
    """Keep what setting up took, with what it is planned at and what the part is held in now. Part of the report that
    starts the op, whose ledger row says who reported and when."""
    setup = step.setup
    if setup is None:
        return
    planned = planning.total(queries.setting_up_of(setup, queries.plan_rules()))
    SetUpTaken.objects.create(
        step=step, lot=lot, held=queries.held_in(setup), planned=_hundredths(planned), actual=_hundredths(minutes)
    )


def _hundredths(minutes: float) -> Decimal:
    return Decimal(str(minutes)).quantize(HUNDREDTH)
