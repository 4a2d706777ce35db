"""What the shop's machines really took, against what was planned: a ratio for each machine and material.

A few jobs say little, so their mean is drawn towards what is known in general: the plan is right on the whole (ratio
1), each machine and material is off by its own share, and each job scatters round that. With n jobs whose log ratios
have mean m the estimate is m n / (n + k), where k is the scatter of jobs over that of groups, both squared; its spread
is the scatter of jobs over √(n + k). This is the usual shrinkage of a normal mean with a normal prior (standard
statistics, as in any textbook on empirical Bayes estimation; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import exp, log, sqrt
from statistics import fmean, pvariance

JOB_SCATTER = 0.25
"""Standard deviation of one job's log ratio until enough jobs say it themselves (common practice, no source)."""
GROUP_SCATTER = 0.25
"""The same of machines and materials among themselves."""
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
class Ratio:
    """Actual over planned. low, high: two thirds of such jobs' mean lies between them. jobs: how many said so."""

    ratio: float = 1.0
    low: float = 1.0
    high: float = 1.0
    jobs: int = 0


@dataclass(frozen=True)
class Correction:
    """Ratios by machine and material group; a pair that nothing is known of is planned as it is."""

    ratios: Mapping[tuple[str, str], Ratio] = field(default_factory=dict)

    def of(self, machine: str, group: str) -> Ratio:
        return self.ratios.get((machine, group), Ratio())


def correction(took: Iterable[Took]) -> Correction:
    """Ratios from what lots took; a lot without minutes on both sides says nothing."""
    logs: dict[tuple[str, str], list[float]] = {}
    for one in took:
        if one.planned_min > 0 and one.actual_min > 0:
            ratio = min(max(one.actual_min / one.planned_min, 1 / WILDEST), WILDEST)
            logs.setdefault((one.machine, one.group), []).append(log(ratio))
    scatter = _job_scatter(list(logs.values()))
    return Correction({pair: shrunk(values, scatter) for pair, values in logs.items()})


def shrunk(log_ratios: list[float], job_scatter: float = JOB_SCATTER, group_scatter: float = GROUP_SCATTER) -> Ratio:
    """The ratio of one machine and material, drawn towards 1 the more the fewer the jobs are."""
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
