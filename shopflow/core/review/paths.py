"""Places along the ways of motions, close enough to ask which tool came by where."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc.extent import PLANE_AXES, lengths
from shopflow.core.types import MotionKind, Motions

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]


@dataclass(frozen=True)
class Places:
    """places: (m, 3) mm, along the ways. row: (m,) the motion of each. step_mm: along a way from one to the next."""

    places: Floats
    row: Rows
    step_mm: float


def places_along(motions: Motions, rows: Rows, step_mm: float, most: int) -> Places:
    """The middles of equal steps along the ways of these motions, no more than about `most` of them, in their order.

    A motion of no length has one place. Where `most` would not do, steps are longer and say so.
    """
    way = lengths(motions)[rows]
    step = max(step_mm, float(way.sum()) / most)
    count = np.maximum(np.ceil(way / step), 1.0).astype(np.intp)
    if len(rows) > most:  # a pass of many short moves: one in so many stands for its neighbours
        rows, count = rows[:: -(-len(rows) // most)], np.ones(len(rows[:: -(-len(rows) // most)]), np.intp)
    row = np.repeat(rows, count)
    first = np.repeat(np.cumsum(count) - count, count)
    share = (np.arange(len(row)) - first + 0.5) / np.repeat(count, count)
    return Places(_at(motions, row, share), row, step)


def _at(motions: Motions, row: Rows, share: Floats) -> Floats:
    """(m, 3) mm: where each motion is after this share of its way; helices rise evenly."""
    start, end = motions.start[row], motions.end[row]
    places: Floats = start + share[:, None] * (end - start)
    for plane, (first, second, _) in PLANE_AXES.items():
        turns = np.flatnonzero((motions.kind[row] == MotionKind.ARC) & (motions.plane[row] == plane))
        centre = motions.centre[row[turns]][:, (first, second)]
        angle = np.radians(motions.turn_deg[row[turns]]) * share[turns]
        out = start[turns][:, (first, second)] - centre
        places[turns, first] = centre[:, 0] + np.cos(angle) * out[:, 0] - np.sin(angle) * out[:, 1]
        places[turns, second] = centre[:, 1] + np.sin(angle) * out[:, 0] + np.cos(angle) * out[:, 1]
    return places
