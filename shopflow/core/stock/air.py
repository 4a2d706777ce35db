"""Air cuts: runs of feed motion that take nothing worth the time, and the proof that the part is the same without
them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.columns import Columns, largest_difference
from shopflow.core.stock.removal import Conditions, Removal, remove
from shopflow.core.types import Motions, Tool

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_S = 1.0
"""Runs that cost less are not worth a word (our choice)."""


@dataclass(frozen=True)
class AirCut:
    """Motions first to last (last included) in a row at feed. lines: first and last program line. volume_mm3: the most
    that they take together from any blank of the range.
    """

    first: int
    last: int
    lines: tuple[int, int]
    tool: int
    seconds: float
    volume_mm3: float


def air_cuts(
    runs: Sequence[Removal], motions: Motions, seconds: Floats, *, limit_mm3: float, least_s: float = LEAST_S
) -> tuple[AirCut, ...]:
    """Runs of feed motion that take at most limit_mm3 together from every blank.

    runs: removals of all motions, one for each blank of the range. seconds: (n,). A run ends at a rapid, at a change of
    tool, and where one motion more would take more than the limit. A wanted spring pass looks the same: whoever reads
    this must ask, not blame.
    """
    most = np.max([run.volume_mm3 for run in runs], axis=0)
    swept = np.all([run.unswept == 0 for run in runs], axis=0)
    fed = motions.feeds & swept
    found = (
        _cut(motions, seconds, most, first, last) for first, last in _stretches(fed, motions.tool, most, limit_mm3)
    )
    return tuple(one for one in found if one.seconds >= least_s)


def left_out(cuts: Sequence[AirCut], count: int) -> Flags:
    """(count,) bool, the motions of these cuts."""
    rows = np.zeros(count, np.bool_)
    for one in cuts:
        rows[one.first : one.last + 1] = True
    return rows


def difference_without(
    state: Columns,
    run: Removal,
    motions: Motions,
    tools: Mapping[int, Tool],
    conditions: Conditions,
    cuts: Sequence[AirCut],
    *,
    begin: int = 0,
) -> float:
    """How far the part differs when these cuts are dropped, mm: the program is run again without them.

    state: the material before motion `begin`, at or before the first of the cuts; the blank at 0.
    """
    again = remove(state, motions, tools, conditions, begin=begin, left_out=left_out(cuts, len(motions)))
    return largest_difference(run.columns, again.columns)


def _stretches(fed: Flags, tool: NDArray[np.int32], volume: Floats, limit: float) -> list[tuple[int, int]]:
    """First and last of each stretch at feed with one tool that stays under the limit."""
    found: list[tuple[int, int]] = []
    first, total = -1, 0.0
    for row in range(len(fed)):
        goes_on = first >= 0 and fed[row] and tool[row] == tool[first] and total + volume[row] <= limit
        if goes_on:
            total += float(volume[row])
            continue
        if first >= 0:
            found.append((first, row - 1))
        first = row if fed[row] and volume[row] <= limit else -1
        total = float(volume[row]) if first >= 0 else 0.0
    if first >= 0:
        found.append((first, len(fed) - 1))
    return found


def _cut(motions: Motions, seconds: Floats, volume: Floats, first: int, last: int) -> AirCut:
    rows = slice(first, last + 1)
    lines = (int(motions.line[rows].min()), int(motions.line[rows].max()))
    return AirCut(first, last, lines, int(motions.tool[first]), float(seconds[rows].sum()), float(volume[rows].sum()))
