"""Which motion cut a place: from a gouge or from stock left back to the line of the program."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import compare_kernels
from shopflow.core.stock.compare_samples import Samples
from shopflow.core.stock.moves import Unswept, moves_of, why_unswept
from shopflow.core.stock.removal import Conditions, tool_table
from shopflow.core.types import Motions, Tool

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

MOST_ASKED = 4000
"""Places whose motion is looked for one by one; beyond them the deepest of each neighbourhood answers for it."""

GOUGE_SHARES = (0.75, 0.4, 0.1)
"""How deep in a gouge a motion must have been to be the one that made it; less where none was as deep along the normal,
which leads out of a round hole."""
BESIDE_MM = 0.03
"""A motion less deep than this only ran along the face."""
OVER_MM = (0.05, 0.2, 0.6)
"""How far over stock left a motion must have passed to be the one that left it; farther where none came as near."""

NEAR_MM = 5.0
"""A place over which no motion came is laid to the one beside it within this (our choice): the rim of a floor under
stock that a wall still has."""


def first_through(
    places: Floats, motions: Motions, tools: Mapping[int, Tool], conditions: Conditions, pitch: float
) -> Numbers:
    """(n,) the first motion whose cutter came over each place, (n, 3) mm in the setup; -1 where none did."""
    reasons = why_unswept(motions, conditions.work_offset, frozenset(tools))
    swept = np.flatnonzero(reasons == Unswept.SWEPT)
    moves = moves_of(motions, swept, conditions.machine, conditions.chord_for(pitch))
    found = np.full(len(places), -1, np.int64)
    if not len(moves.motion):
        return found
    table, numbers = tool_table(tools)
    tool = numbers[motions.tool[moves.motion]]
    compare_kernels.first_through(np.ascontiguousarray(places), moves.points, tool, table.begins, table.bodies, found)
    return np.where(found >= 0, moves.motion[found], -1)


def cut_by(
    samples: Samples,
    rows: NDArray[np.intp],
    motions: Motions,
    tools: Mapping[int, Tool],
    conditions: Conditions,
    pitch: float,
) -> Numbers:
    """(rows,) the motion behind the deviation of each of these samples, -1 where no cutter was there."""
    if not len(rows):
        return np.zeros(0, np.int64)
    asked, answer = _asked(samples, rows, pitch)
    depth, found = samples.deviation[asked], np.full(len(asked), -1, np.int64)
    for share, over in zip(GOUGE_SHARES, OVER_MM, strict=True):
        open_ = np.flatnonzero(found < 0)
        inside = np.minimum(share * depth, np.maximum(GOUGE_SHARES[0] * depth, -BESIDE_MM))
        away = np.where(depth < 0.0, inside, depth + over)[open_]
        places = samples.points[asked[open_]] + away[:, None] * samples.normals[asked[open_]]
        found[open_] = first_through(places, motions, tools, conditions, pitch)
    return _from_neighbours(samples, asked, found)[answer]


def _from_neighbours(samples: Samples, asked: NDArray[np.intp], found: Numbers) -> Numbers:
    """Places that no motion answers for take it from the nearest that one does, if that is no farther than NEAR_MM."""
    known = np.flatnonzero(found >= 0)
    filled = found.copy()
    for row in np.flatnonzero(found < 0) if len(known) else ():
        apart = samples.points[asked[known]] - samples.points[asked[row]]
        squared = np.einsum("ij,ij->i", apart, apart)
        if squared.min() <= NEAR_MM**2:
            filled[row] = found[known[squared.argmin()]]
    return filled


def _asked(samples: Samples, rows: NDArray[np.intp], pitch: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Samples to ask about, and for each of the rows which of them answers: the deepest of its cell and face."""
    size = pitch
    while True:
        cells = np.floor(samples.points[rows] / size).astype(np.int64)
        keys = np.column_stack((samples.face[rows], cells))
        _, answer = np.unique(keys, axis=0, return_inverse=True)
        answer = answer.reshape(-1)
        if answer.max() < MOST_ASKED:
            break
        size *= 1.5
    order = np.lexsort((-np.abs(samples.deviation[rows]), answer))
    first = np.concatenate(([True], np.diff(answer[order]) > 0))
    return rows[order[first]], answer
