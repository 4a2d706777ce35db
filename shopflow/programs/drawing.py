"""Motions as polylines for the viewer: the bytes SFP1, little-endian.

Header: "SFP1", u32 motions m, u32 points p, u32 0. Then i32 line[m], i32 kind[m] (MotionKind), i32 tool[m],
u32 starts[m + 1], f32 points[3 p] in mm; motion i is the polyline of points starts[i] to starts[i + 1].
"""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

from shopflow.core.types import MotionKind, Motions
from shopflow.records import cache

MOST_MOTIONS = 400_000
"""More than a tablet draws; the page says where the drawing ends."""
DEGREES_A_CHORD = 7.5

_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}


def key(review_key: str, offset: int) -> str:
    """The name in the cache of the drawing that a review (its work's key) made of one work offset."""
    return cache.key("program drawing", work=review_key, offset=offset)


def offsets_drawn(motions: Motions) -> list[int]:
    """The work offsets (1 is G54) in which something moves, each drawn apart: they have different zeros."""
    return [int(offset) for offset in np.unique(motions.work_offset) if offset]


def rows_drawn(motions: Motions, offset: int) -> NDArray[np.intp]:
    """Rows of the motions that are drawn in one work offset."""
    return np.flatnonzero((motions.work_offset == offset) & (motions.kind != MotionKind.DWELL))[:MOST_MOTIONS]


def drawing(motions: Motions, *, offset: int) -> bytes:
    """The motions in one work offset. What starts at a place that is not known is drawn as its end alone."""
    rows = rows_drawn(motions, offset)
    counts = _points_each(motions, rows)
    starts = np.concatenate(([0], np.cumsum(counts))).astype(np.uint32)
    points = _points(motions, rows, counts)
    header = b"SFP1" + struct.pack("<3I", len(rows), len(points), 0)
    columns = (motions.line[rows], motions.kind[rows], motions.tool[rows])
    return b"".join(
        [header, *(column.astype("<i4").tobytes() for column in columns), starts.astype("<u4").tobytes(),
         points.astype("<f4").tobytes()]
    )  # fmt: skip


def _points_each(motions: Motions, rows: NDArray[np.intp]) -> NDArray[np.int64]:
    """(m,) how many points: 2 for a straight move, one a chord more for an arc, 1 where the start is not known."""
    counts = np.full(len(rows), 2, dtype=np.int64)
    is_arc = motions.kind[rows] == MotionKind.ARC
    chords = np.ceil(np.abs(motions.turn_deg[rows]) / DEGREES_A_CHORD).clip(2)
    counts[is_arc] = chords[is_arc].astype(np.int64) + 1
    counts[~motions.start_known[rows].all(axis=1)] = 1
    return counts


def _points(motions: Motions, rows: NDArray[np.intp], counts: NDArray[np.int64]) -> NDArray[np.float64]:
    """(p, 3) float64, mm. share runs from 0 at the start of a motion to 1 at its end."""
    motion = np.repeat(np.arange(len(rows)), counts)
    first = np.concatenate(([0], np.cumsum(counts)[:-1])).astype(np.int64)
    step = np.arange(len(motion)) - first[motion]
    share = np.where(counts[motion] > 1, step / np.maximum(counts[motion] - 1, 1), 1.0)
    start, end = motions.start[rows][motion], motions.end[rows][motion]
    points = np.where(share[:, None] == 1.0, end, start + (end - start) * share[:, None])
    for plane, axes in _AXES.items():
        _bend(points, motions, rows, motion, share, plane, axes)
    return np.nan_to_num(points)


def _bend(
    points: NDArray[np.float64],
    motions: Motions,
    rows: NDArray[np.intp],
    motion: NDArray[np.intp],
    share: NDArray[np.float64],
    plane: int,
    axes: tuple[int, int, int],
) -> None:
    """Put the points of the arcs of one plane onto their circles; the third axis stays straight (a helix)."""
    is_arc = (motions.kind[rows] == MotionKind.ARC) & (motions.plane[rows] == plane)
    inner = np.flatnonzero(is_arc[motion] & (share > 0) & (share < 1))
    if not len(inner):
        return
    row = rows[motion[inner]]
    first, second, _ = axes
    centre = motions.centre[row]
    across, up = motions.start[row, first] - centre[:, first], motions.start[row, second] - centre[:, second]
    angle = np.arctan2(up, across) + np.radians(motions.turn_deg[row]) * share[inner]
    radius = np.hypot(across, up)
    points[inner, first] = centre[:, first] + radius * np.cos(angle)
    points[inner, second] = centre[:, second] + radius * np.sin(angle)
