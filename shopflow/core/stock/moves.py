"""Motions as straight moves that can be swept: arcs and helices in chords, rapids as the control moves them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from shopflow.core.types import Machine, MotionKind, Motions

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

_PLANE_AXES = {17: (0, 1), 18: (2, 0), 19: (1, 2)}


class Unswept(IntEnum):
    """Why a motion was not swept."""

    SWEPT = 0
    STANDS_STILL = 1
    """A dwell, or a motion of no length."""
    START_NOT_KNOWN = 2
    """Where it starts is only assumed: the first motion, after a return home, after a change of work offset."""
    OTHER_OFFSET = 3
    """It belongs to another work offset, or to the machine's own coordinates."""
    NO_TOOL = 4
    """No tool of the table was in the spindle."""
    LEFT_OUT = 5
    """The caller asked to leave it out."""


@dataclass(frozen=True)
class Moves:
    """Straight moves of m pieces in order. points: (m, 6) float64 start and end x y z, mm. motion: (m,) int64 the
    motion each belongs to. is_rapid: (m,) uint8. stretch: (m,) int64 rising, from 0: moves of one stretch of a motion's
    way, over which what it takes is looked at by itself.
    """

    points: Floats
    motion: Numbers
    is_rapid: NDArray[np.uint8]
    stretch: Numbers

    @property
    def lengths(self) -> Floats:
        """(m,) mm."""
        apart: Floats = np.linalg.norm(self.points[:, 3:] - self.points[:, :3], axis=1)
        return apart


def why_unswept(
    motions: Motions, work_offset: int, tools: frozenset[int], left_out: NDArray[np.bool_] | None = None
) -> NDArray[np.uint8]:
    """(n,) uint8 `Unswept`, the weightier reason where there are two."""
    reasons = np.zeros(len(motions), np.uint8)
    known_tools = np.isin(motions.tool, np.array(sorted(tools), dtype=np.int32))
    still = (motions.start == motions.end).all(axis=1) & (motions.turn_deg == 0.0)
    reasons[~known_tools] = Unswept.NO_TOOL
    reasons[~motions.start_known.all(axis=1)] = Unswept.START_NOT_KNOWN
    reasons[motions.work_offset != work_offset] = Unswept.OTHER_OFFSET
    reasons[still | (motions.kind == MotionKind.DWELL)] = Unswept.STANDS_STILL
    if left_out is not None:
        reasons[left_out & (reasons == Unswept.SWEPT)] = Unswept.LEFT_OUT
    return reasons


def moves_of(
    motions: Motions, which: Numbers, machine: Machine, chord_mm: float, stretch_mm: Floats | None = None
) -> Moves:
    """The moves of the motions `which` (rising numbers). chord_mm: how far a chord may lie from its arc. stretch_mm:
    (which,) about how long a stretch of a motion at feed is; without it a motion is one.
    """
    kind = motions.kind[which]
    pieces = np.ones(len(which), np.int64)
    if stretch_mm is not None:
        straight = np.flatnonzero(kind == MotionKind.FEED)
        pieces[straight] = _stretches(motions, which[straight], stretch_mm[straight])
    arcs = np.flatnonzero(kind == MotionKind.ARC)
    pieces[arcs] = _chords(motions, which[arcs], chord_mm)
    legs = np.zeros((len(which), 3))
    if not machine.control.straight_rapids:
        rapids = np.flatnonzero(kind == MotionKind.RAPID)
        legs[rapids] = _arrivals(motions, which[rapids], machine)
        pieces[rapids] = 3
    of = np.repeat(np.arange(len(which)), pieces)
    number = np.arange(len(of)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    ends = _places(motions, which, of, (number + 1) / pieces[of], legs)
    starts = np.empty_like(ends)
    starts[1:] = ends[:-1]
    first = number == 0
    starts[first] = motions.start[which]
    points = np.hstack((starts, ends))
    goes = (starts != ends).any(axis=1)
    rapid = (kind == MotionKind.RAPID)[of]
    stretch = of if stretch_mm is None else _stretch_of(points, of, number, kind, stretch_mm)
    return Moves(np.ascontiguousarray(points[goes]), which[of][goes], rapid[goes].astype(np.uint8), stretch[goes])


def _stretches(motions: Motions, which: Numbers, stretch_mm: Floats) -> Numbers:
    """Number of pieces of each straight motion; 1 of one that goes down more steeply than it goes along, whose depth
    is that of all of it.
    """
    way = motions.end[which] - motions.start[which]
    level = np.hypot(way[:, 0], way[:, 1])
    pieces: Numbers = np.ceil(np.hypot(level, way[:, 2]) / stretch_mm - 0.5).astype(np.int64)
    return np.where(level > np.abs(way[:, 2]), np.maximum(pieces, 1), 1)


def _stretch_of(points: Floats, of: Numbers, number: Numbers, kind: NDArray[np.uint8], stretch_mm: Floats) -> Numbers:
    """The stretch of each piece: chords of an arc are put together until they are as long as one is to be."""
    length = np.linalg.norm(points[:, 3:] - points[:, :3], axis=1)
    together = np.where(kind[of] == MotionKind.ARC, np.ceil(stretch_mm[of] / np.maximum(length, 1e-9)), 1.0)
    last = np.bincount(of)[of] - 1
    within = np.minimum(number // together, np.maximum((last + 1) // together - 1, 0))
    begins = (number == 0) | (np.diff(within, prepend=0.0) != 0.0)
    found: Numbers = np.cumsum(begins) - 1
    return found


def _chords(motions: Motions, which: Numbers, chord_mm: float) -> Numbers:
    """Number of chords that each arc is cut into."""
    radius = np.zeros(len(which))
    for plane, (first, second) in _PLANE_AXES.items():
        rows = motions.plane[which] == plane
        arm = motions.start[which[rows]] - motions.centre[which[rows]]
        radius[rows] = np.hypot(arm[:, first], arm[:, second])
    step = np.degrees(2.0 * np.arccos(np.clip(1.0 - chord_mm / np.maximum(radius, chord_mm), 0.0, 1.0)))
    chords: Numbers = np.maximum(np.ceil(np.abs(motions.turn_deg[which]) / step), 1).astype(np.int64)
    return chords


def _arrivals(motions: Motions, which: Numbers, machine: Machine) -> Floats:
    """(n, 3) when each axis arrives, as a share of the slowest one's time; each goes at its own full rate."""
    seconds = np.abs(motions.end[which] - motions.start[which]) / np.array(machine.rapid_mm_min)
    slowest = seconds.max(axis=1, initial=0.0)
    share: Floats = seconds / np.where(slowest > 0.0, slowest, 1.0)[:, None]
    return share


def _places(motions: Motions, which: Numbers, of: Numbers, share: Floats, legs: Floats) -> Floats:
    """Where each piece ends."""
    places = motions.end[which][of].copy()
    rows = which[of]
    before = share < 1.0 - 1e-12
    for plane in _PLANE_AXES:
        arc = np.flatnonzero(before & (motions.kind[rows] == MotionKind.ARC) & (motions.plane[rows] == plane))
        places[arc] = _on_arc(motions, rows[arc], share[arc], plane)
    feed = np.flatnonzero(before & (motions.kind[rows] == MotionKind.FEED))
    start = motions.start[rows[feed]]
    places[feed] = start + share[feed, None] * (motions.end[rows[feed]] - start)
    rapid = np.flatnonzero(before & (motions.kind[rows] == MotionKind.RAPID))
    turns = np.sort(legs[of[rapid]], axis=1)
    when = np.where(share[rapid] < 0.5, turns[:, 0], turns[:, 1])[:, None]
    gone = np.minimum(when / np.maximum(legs[of[rapid]], 1e-12), 1.0)
    places[rapid] = motions.start[rows[rapid]] + gone * (motions.end[rows[rapid]] - motions.start[rows[rapid]])
    return places


def _on_arc(motions: Motions, rows: Numbers, share: Floats, plane: int) -> Floats:
    """Places on arcs; the radius goes evenly from the start's to the end's, where a control lets them differ."""
    first, second = _PLANE_AXES[plane]
    centre = motions.centre[rows]
    start, end = motions.start[rows] - centre, motions.end[rows] - centre
    inner, outer = np.hypot(start[:, first], start[:, second]), np.hypot(end[:, first], end[:, second])
    angle = np.arctan2(start[:, second], start[:, first]) + np.radians(motions.turn_deg[rows]) * share
    radius = inner + (outer - inner) * share
    places = motions.start[rows] + share[:, None] * (motions.end[rows] - motions.start[rows])
    places[:, first] = centre[:, first] + radius * np.cos(angle)
    places[:, second] = centre[:, second] + radius * np.sin(angle)
    return places
