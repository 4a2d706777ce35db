"""The operations of setups, their speeds and minutes, and the day on which a job has to start."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from shopflow.core import planning
from shopflow.jobs.models import Job, Operation, Setup, SetUpTaken, TimeTaken
from shopflow.jobs.queries.habits import plan_rules
from shopflow.jobs.queries.setting_up import held_in, setting_up_of
from shopflow.shop import queries as shop
from shopflow.shop.calendar import workdays

MINUS = "\u2212"
MOST_TIMES = 500
"""What was taken longer ago than this many lots, or set-ups, says little about today."""


def speeds_of(setup: Setup) -> planning.Speeds:
    """What speeds and feeds of a setup follow from."""
    material = setup.job.material.as_core() if setup.job.material else None
    machine = shop.core_machine(setup.machine) if setup.machine else None
    hss_most = float(shop.house_rules().value("hss_plunge_decide"))
    return planning.Speeds(material, machine, shop.own_cutting_data(), hss_most)


def typed_of(row: Operation) -> planning.Typed:
    """What a person fixed about the operation, for the core."""
    has_peck = {"peck_first", "peck_next"}.intersection(row.fixed)
    pecks = (row.peck_first.mm if row.peck_first else 0.0, row.peck_next.mm if row.peck_next else 0.0)
    axial_mm, radial_mm = typed_pass(row)
    return planning.Typed(
        rpm=float(row.rpm) if row.rpm and "rpm" in row.fixed else None,
        feed_mm_min=row.feed.mm if row.feed and "feed" in row.fixed else None,
        peck_mm=pecks if has_peck else None,
        axial_mm=axial_mm,
        radial_mm=radial_mm,
    )


def typed_pass(row: Operation) -> tuple[float | None, float | None]:
    """Depth and width of a pass, mm, as far as a person typed them."""
    axial = row.axial.mm if row.axial and "axial" in row.fixed else None
    radial = row.radial.mm if row.radial and "radial" in row.fixed else None
    return axial, radial


def said_in(units: str) -> Callable[[float], str]:
    """How sentences say a length."""
    return planning.PlanRules(unit=units).say


def cautions_of(row: Operation, *, units: str) -> list[str]:
    """What to think about before cutting with the typed pass, speed and feed."""
    speeds = speeds_of(row.setup)
    planned = row.as_core()
    timed = planning.timed(planned, speeds, typed_of(row))
    return planning.cautions(planned, timed, *typed_pass(row), speeds, said_in(units))


def correction_now() -> planning.Correction:
    """What the shop took against what was planned: cutting by machine and material group, setting up by workholding."""
    return planning.correction(_lots_taken(), _set_ups_taken())


def _lots_taken() -> list[planning.Took]:
    rows = TimeTaken.objects.filter(planned__gt=0).select_related("machine")[:MOST_TIMES]
    return [planning.Took(row.machine.name, row.group, float(row.planned or 0), float(row.actual)) for row in rows]


def _set_ups_taken() -> list[planning.SetUp]:
    rows = SetUpTaken.objects.filter(planned__gt=0)[:MOST_TIMES]
    return [planning.SetUp(planning.Held(row.held), float(row.planned), float(row.actual)) for row in rows]


def ratio_of(setup: Setup) -> planning.Ratio:
    """How this machine and material usually differ from the plan, with its spread."""
    if setup.machine is None:
        return planning.Ratio()
    group = setup.job.material.group if setup.job.material else ""
    return planning.correction(_lots_taken()).of(setup.machine.name, group)


def set_up_ratio_of(setup: Setup) -> planning.Ratio:
    """How setting up in such workholding usually differs from the plan, with its spread."""
    return planning.correction((), _set_ups_taken()).of_setting_up(held_in(setup))


def set_up_minutes_of(setup: Setup) -> Decimal:
    """Minutes to set up as the plan says them: corrected by what such set-ups took before."""
    return Decimal(str(planning.total(setting_up_of(setup, plan_rules())) * set_up_ratio_of(setup).ratio))


def minutes_of(setup: Setup) -> Decimal | None:
    """Minutes a piece as the plan says them: corrected by what the machine took before."""
    plain = plain_minutes_of(setup)
    return None if plain is None else Decimal(str(float(plain) * ratio_of(setup).ratio))


def plain_minutes_of(setup: Setup) -> Decimal | None:
    """Minutes a piece before any correction: loading, and the operations; None without a machine or operations."""
    rows = list(setup.operations.select_related("tool"))
    if setup.machine is None or not rows:
        return None
    machine = shop.core_machine(setup.machine)
    made = [_timed_as_stored(row) for row in rows]
    cutting = planning.cutting_minutes(made, machine) or 0.0
    return Decimal(str(planning.load_minutes(plan_rules(), held=held_in(setup)) + cutting))


def _timed_as_stored(row: Operation) -> planning.Operation:
    return replace(row.as_core(), minutes=float(row.minutes) if row.minutes is not None else None)


def left_out_words(job: Job) -> list[str]:
    """What a person took out of the plan, as a page says it: sizes of holes and pockets are in mm."""
    return [_left_out(key) for key in job.left_out]


def _left_out(key: str) -> str:
    """ "op +Z spot hole 6.600 12.000 through" is told as the operation, with which side or direction is up."""
    what, side, operation = (*key.split(" ", 2), "", "")[:3]
    words = {"operation": operation, "side": side.replace("-", MINUS)}
    said = {"op": _("%(operation)s with %(side)s up"), "setup": _("the setup with %(side)s up")}
    return said[what] % words if what in said else key


def needed_by(job: Job) -> date:
    """The last day on which the job can start and still be ready: its day due less what its minutes take, counted over
    the days that the shop works."""
    steps = job.steps.all()
    minutes = sum((step.minutes_setup or 0) + job.quantity * (step.minutes_each or 0) for step in steps)
    return planning.latest_start(job.due_on, float(minutes), workdays())
