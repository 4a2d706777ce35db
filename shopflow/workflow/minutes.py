"""Plan, program and actual minutes of each op, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, Step, TimeTaken
from shopflow.programs import queries as programs


@dataclass(frozen=True)
class OpMinutes:
    """Minutes a piece. plan: with loading; program: from cycle start to end, as simulated; actual: as reported, loading
    included. lots, pieces: behind the actual. Each None where nobody knows it yet."""

    step: Step
    plan: Decimal | None
    program: float | None
    actual: float | None
    lots: int = 0
    pieces: int = 0

    @property
    def over_plan(self) -> float | None:
        """Actual over plan; None while one of them is not known."""
        return self.actual / float(self.plan) if self.actual and self.plan else None


def minutes_side_by_side(job: Job) -> list[OpMinutes]:
    """One row for each milled op of the routing."""
    seconds = _program_seconds(job)
    return [_row(step, seconds.get(step.setup.number)) for step in jobs.steps_of(job) if step.setup]


def _row(step: Step, seconds: float | None) -> OpMinutes:
    taken = list(step.times_taken.all())
    pieces = sum(one.pieces for one in taken)
    return OpMinutes(
        step=step,
        plan=step.minutes_each,
        program=None if seconds is None else seconds / 60,
        actual=_mean(taken, pieces),
        lots=len(taken),
        pieces=pieces,
    )


def _mean(taken: list[TimeTaken], pieces: int) -> float | None:
    """Over all pieces of all lots."""
    return sum(float(one.actual) * one.pieces for one in taken) / pieces if pieces else None


def _program_seconds(job: Job) -> dict[int, float]:
    """By setup, the time of the newest revision of each of its programs; what was not read yet counts nothing."""
    found: dict[int, float] = {}
    for program in programs.programs_of(job):
        revision = programs.newest(program)
        review = revision.reviews.select_related("work").first() if revision else None
        reading = review.result.get("reading") if review and review.is_done else None
        for section in (reading or {}).get("sections", ()):
            if section["setup"]:
                found[section["setup"]] = found.get(section["setup"], 0.0) + section["seconds"]
    return found
