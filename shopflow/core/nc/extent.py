"""Lengths of motions and the box around them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.types import MotionKind, Motions, Vector

PLANE_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
"""First and second axis of a plane and its normal, right-handed, so that counter-clockwise is a positive turn."""


@dataclass(frozen=True)
class Extent:
    """Lowest and highest corner, mm."""

    low: Vector
    high: Vector


def lengths(motions: Motions) -> NDArray[np.float64]:
    """(n,) float64, mm along each path (helices included); an axis whose start is only assumed counts nothing."""
    delta = np.where(motions.start_known, motions.end - motions.start, 0.0)
    length: NDArray[np.float64] = np.sqrt((delta**2).sum(axis=1))
    for plane, (first, second, normal) in PLANE_AXES.items():
        rows = np.flatnonzero((motions.kind == MotionKind.ARC) & (motions.plane == plane))
        radius = np.hypot(
            motions.start[rows, first] - motions.centre[rows, first],
            motions.start[rows, second] - motions.centre[rows, second],
        )
        length[rows] = np.hypot(radius * np.radians(np.abs(motions.turn_deg[rows])), delta[rows, normal])
    return length


def clear_heights(motions: Motions, end_known: NDArray[np.bool_]) -> NDArray[np.float64]:
    """(n,) float64, mm: how far the tip stands above everything fed through so far, after each motion.

    inf at home in Z or before anything was fed through; NaN where the height is not known; negative inside a cut.
    A feed straight up leaves a cut and is none; a slope or a helix cuts at the height of its start as well.
    """
    z_start, z_end = motions.start[:, 2], motions.end[:, 2]
    in_work = motions.work_offset != 0
    sideways = (motions.start[:, :2] != motions.end[:, :2]).any(axis=1) | (motions.kind == MotionKind.ARC)
    feeds = in_work & motions.feeds
    top = np.where(feeds & (sideways | (z_end < z_start)), z_end, -np.inf)
    top = np.maximum(top, np.where(feeds & sideways & motions.start_known[:, 2], z_start, -np.inf))
    top = np.maximum.accumulate(top) if len(top) else top
    order = np.arange(len(motions))
    moves = motions.kind != MotionKind.DWELL
    last_home = _latest(~in_work & end_known[:, 2] & moves, order)
    last_level = _latest(in_work & end_known[:, 2] & moves, order)
    height = np.where(end_known[:, 2], z_end - np.where(np.isinf(top), 0.0, top), np.nan)
    height[np.isinf(top) | (last_home > last_level)] = np.inf
    return height


def _latest(happened: NDArray[np.bool_], order: NDArray[np.int64]) -> NDArray[np.int64]:
    """Index of the latest row, up to each row, where it happened; -1 before the first."""
    marks = np.where(happened, order, -1)
    latest: NDArray[np.int64] = np.maximum.accumulate(marks) if len(marks) else marks
    return latest


def arc_extent(motions: Motions, end_known: NDArray[np.bool_], *, work_offset: int | None = None) -> Extent | None:
    """Box around all known ends and starts in work coordinates and the far points of arcs; None without any point.

    work_offset: only the motions in this one; None for all together, each in its own offset's coordinates.
    """
    chosen = motions.work_offset != 0 if work_offset is None else motions.work_offset == work_offset
    in_work = chosen[:, None]
    low = np.full(3, np.inf)
    high = np.full(3, -np.inf)
    for points, known in ((motions.start, motions.start_known), (motions.end, end_known)):
        use = known & in_work
        low = np.minimum(low, np.where(use, points, np.inf).min(axis=0, initial=np.inf))
        high = np.maximum(high, np.where(use, points, -np.inf).max(axis=0, initial=-np.inf))
    for plane, (first, second, _) in PLANE_AXES.items():
        rows = np.flatnonzero(chosen & (motions.kind == MotionKind.ARC) & (motions.plane == plane))
        _widen_by_arcs(motions, rows, first, second, low, high)
    if not (low <= high).any():
        return None
    reached = low <= high
    low, high = np.where(reached, low, np.nan), np.where(reached, high, np.nan)
    return Extent(_vector(low), _vector(high))


def _widen_by_arcs(
    motions: Motions,
    rows: NDArray[np.intp],
    first: int,
    second: int,
    low: NDArray[np.float64],
    high: NDArray[np.float64],
) -> None:
    """An arc reaches farthest along an axis where it crosses one of the four quarter directions of its circle."""
    start = motions.start[rows][:, (first, second)] - motions.centre[rows][:, (first, second)]
    radius = np.hypot(start[:, 0], start[:, 1])
    begin = np.degrees(np.arctan2(start[:, 1], start[:, 0]))
    turn = motions.turn_deg[rows]
    for quarter, (axis, sign) in enumerate(((first, 1.0), (second, 1.0), (first, -1.0), (second, -1.0))):
        ahead = np.mod((quarter * 90.0 - begin) * np.sign(turn), 360.0)
        crossed = ahead <= np.abs(turn)
        far = motions.centre[rows, axis][crossed] + sign * radius[crossed]
        if len(far):
            low[axis] = min(low[axis], far.min())
            high[axis] = max(high[axis], far.max())


def _vector(values: NDArray[np.float64]) -> Vector:
    return float(values[0]), float(values[1]), float(values[2])
