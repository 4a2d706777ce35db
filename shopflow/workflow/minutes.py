"""Plan, program and actual minutes of each op, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from statistics import fmean

from django.db.models import prefetch_related_objects

from shopflow.floor import timing
from shopflow.floor.models import OpRun
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, Step
from shopflow.programs import queries as programs


@dataclass(frozen=True)
class OpMinutes:
    """Minutes a piece. plan: with loading; program: from cycle start to end, as simulated; actual: as reported, loading
    included. lots, pieces: behind the actual. Each None where nobody knows it yet.

    plan_setup, actual_setup: minutes to set up, the actual as the mean of so many set_ups.
    """

    step: Step
    plan: Decimal | None
    program: float | None
    actual: float | None
    lots: int = 0
    pieces: int = 0
    runs: bool = False
    """Whether the actual is of what was counted so far, in a lot that still runs."""
    plan_setup: Decimal | None = None
    actual_setup: float | None = None
    set_ups: int = 0

    @property
    def over_plan(self) -> float | None:
        """Actual over plan; None while one of them is not known."""
        return self.actual / float(self.plan) if self.actual and self.plan else None


def minutes_side_by_side(job: Job) -> list[OpMinutes]:
    """One row for each milled op of the routing."""
    seconds = _program_seconds(job)
    running = list(OpRun.objects.filter(lot__job=job, finished_at=None).select_related("lot__job", "step__setup"))
    milled = [step for step in jobs.steps_of(job) if step.setup]
    prefetch_related_objects(milled, "times_taken", "set_ups_taken")
    return [
        _row(step, seconds.get(step.setup.number), [run for run in running if run.step_id == step.pk])
        for step in milled
        if step.setup
    ]


def _row(step: Step, seconds: float | None, running: list[OpRun]) -> OpMinutes:
    """Lots that are done as they were noted when their op ended; those that run as they were counted so far."""
    done = {one.lot: (float(one.actual), one.pieces) for one in step.times_taken.all()}
    told = [*done.values(), *(timing.minutes_each(run) for run in running if run.lot.number not in done)]
    lots = [one for one in told if one is not None]
    pieces = sum(count for _, count in lots)
    set_ups = [float(one.actual) for one in step.set_ups_taken.all()]
    return OpMinutes(
        step=step,
        plan=step.minutes_each,
        program=None if seconds is None else seconds / 60,
        actual=sum(minutes * count for minutes, count in lots) / pieces if pieces else None,
        lots=len(lots),
        pieces=pieces,
        runs=len(lots) > len(done),
        plan_setup=step.minutes_setup,
        actual_setup=fmean(set_ups) if set_ups else None,
        set_ups=len(set_ups),
    )


def _program_seconds(job: Job) -> dict[int, float]:
    """By setup, the time of the newest revision of each of its programs; what was not read yet counts nothing."""
    found: dict[int, float] = {}
    for review in programs.Among.newest_of(job).under_any.values():
        reading = review.result.get("reading") if review.is_done else None
        for section in (reading or {}).get("sections", ()):
            if section["setup"]:
                found[section["setup"]] = found.get(section["setup"], 0.0) + section["seconds"]
    return found
