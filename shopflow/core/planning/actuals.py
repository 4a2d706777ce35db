"""What the shop really took, against what was planned: a ratio of cutting for each machine and material, and one of
setting up for each kind of workholding.

A few jobs say little, so their mean is drawn towards what is known in general: the plan is right on the whole (ratio
1), each group (machine and material, or workholding) is off by its own share, and each job scatters round that. With n
jobs whose log ratios have mean m the estimate is m n / (n + k), where k is the scatter of jobs over that of groups,
both squared; its spread is the scatter of jobs over √(n + k). This is the usual shrinkage of a normal mean with a
normal prior (standard statistics, as in any textbook on empirical Bayes estimation; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from math import exp, log, sqrt
from statistics import fmean, pvariance
from typing import TypeVar

from shopflow.core.planning.setting_up import Held

Key = TypeVar("Key")

JOB_SCATTER = 0.25
"""Standard deviation of one job's log ratio until enough jobs say it themselves (common practice, no source)."""
GROUP_SCATTER = 0.25
"""The same of machines and materials, or kinds of workholding, among themselves."""
ENOUGH = 8
"""Jobs from which the scatter is taken from them."""
LEAST_SCATTER = 0.05
WILDEST = 10.0
"""A ratio beyond this either way is somebody who forgot to stop the clock; it counts as this."""


@dataclass(frozen=True)
class Took:
    """One lot at one setup. planned_min, actual_min: cutting minutes a piece."""

    machine: str
    group: str
    planned_min: float
    actual_min: float


@dataclass(frozen=True)
class SetUp:
    """One set-up. held: what the part was held in. planned_min, actual_min: minutes to set up."""

    held: Held
    planned_min: float
    actual_min: float


@dataclass(frozen=True)
class Ratio:
    """Actual over planned. low, high: two thirds of such jobs' mean lies between them. jobs: how many said so, lots
    or set-ups."""

    ratio: float = 1.0
    low: float = 1.0
    high: float = 1.0
    jobs: int = 0


@dataclass(frozen=True)
class Correction:
    """Ratios of cutting by machine and material group, of setting up by workholding; what nothing is known of is
    planned as it is."""

    ratios: Mapping[tuple[str, str], Ratio] = field(default_factory=dict)
    setting_up: Mapping[Held, Ratio] = field(default_factory=dict)

    def of(self, machine: str, group: str) -> Ratio:
        return self.ratios.get((machine, group), Ratio())

    def of_setting_up(self, held: Held) -> Ratio:
        return self.setting_up.get(held, Ratio())


def correction(took: Iterable[Took], set_ups: Iterable[SetUp] = ()) -> Correction:
    """Ratios from what lots and set-ups took; one without minutes on both sides says nothing."""
    return Correction(
        _ratios(((one.machine, one.group), one.planned_min, one.actual_min) for one in took),
        _ratios((one.held, one.planned_min, one.actual_min) for one in set_ups),
    )


def _ratios(told: Iterable[tuple[Key, float, float]]) -> dict[Key, Ratio]:
    logs: dict[Key, list[float]] = {}
    for key, planned_min, actual_min in told:
        if planned_min > 0 and actual_min > 0:
            ratio = min(max(actual_min / planned_min, 1 / WILDEST), WILDEST)
            logs.setdefault(key, []).append(log(ratio))
    scatter = _job_scatter(list(logs.values()))
    return {key: shrunk(values, scatter) for key, values in logs.items()}


def shrunk(log_ratios: list[float], job_scatter: float = JOB_SCATTER, group_scatter: float = GROUP_SCATTER) -> Ratio:
    """The ratio of one group, drawn towards 1 the more the fewer the jobs are."""
    count, weight = len(log_ratios), (job_scatter / group_scatter) ** 2
    middle = fmean(log_ratios) * count / (count + weight) if count else 0.0
    spread = job_scatter / sqrt(count + weight)
    return Ratio(exp(middle), exp(middle - spread), exp(middle + spread), count)


def _job_scatter(groups: list[list[float]]) -> float:
    """Of jobs within their groups, once there are enough of them; until then what is usual."""
    free = sum(len(values) - 1 for values in groups)
    if free < ENOUGH:
        return JOB_SCATTER
    within = sum(pvariance(values) * len(values) for values in groups) / free
    return max(sqrt(within), LEAST_SCATTER)


LEAST_MIN = 0.05
"""Counts that follow one another faster than this a piece were reported together, not cut."""


LEAST_SET_UP_MIN = 1.0
"""A set-up begun and done faster than this was reported afterwards, not when it began."""


def set_up_minutes(begun: datetime, done: datetime) -> float | None:
    """Minutes from the beginning of a set-up to the start of the op, both in the shop's own time; None where they say
    nothing: over a night nobody knows how long was worked, and a set-up told of afterwards has no beginning."""
    minutes = (done - begun).total_seconds() / 60
    return minutes if begun.date() == done.date() and minutes >= LEAST_SET_UP_MIN else None


def typical_minutes(counts: Sequence[tuple[float, int]]) -> float | None:
    """Minutes a piece from (minutes since the count before, pieces), in order; None where they say nothing.

    The middle of all pieces, so that a night or a broken tool in between does not count. The first count holds the
    first piece, which is proved out and measured: it counts only where there is no other.
    """
    each = [(minutes / pieces, pieces) for minutes, pieces in counts if pieces > 0]
    told = [one for one in each[1:] or each if one[0] >= LEAST_MIN]
    half = sum(pieces for _, pieces in told) / 2
    passed = 0
    for minutes, pieces in sorted(told):
        passed += pieces
        if passed >= half:
            return minutes
    return None
