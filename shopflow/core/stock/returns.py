"""Rapids that go back where the same tool has just cut: out of and into a hole's own bottom, or back along a line.

Such a rapid stands beside material all its way, as the feed before it did; how near that is says nothing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shopflow.core.types import MotionKind, Motions

Flags = NDArray[np.bool_]

_SAME_MM = 1e-6


def returning(motions: Motions) -> Flags:
    """(n,) bool, rapids along a way that the same tool has just fed."""
    found: Flags = _in_own_hole(motions) | _straight_back(motions)
    return found


def _in_own_hole(motions: Motions) -> Flags:
    """Straight up or down, no deeper than this tool fed straight down here without leaving the place."""
    upright = (np.abs(motions.end[:, :2] - motions.start[:, :2]) <= _SAME_MM).all(axis=1) & (motions.turn_deg == 0.0)
    goes_on = np.zeros(len(motions), np.bool_)
    goes_on[1:] = upright[1:] & upright[:-1] & _follows(motions)
    wanted = (motions.kind == MotionKind.RAPID) & upright
    found = np.zeros(len(motions), np.bool_)
    begins = np.flatnonzero(~goes_on)
    ends = np.append(begins[1:], len(motions))
    mixed = np.add.reduceat(wanted, begins) > 0 if len(motions) else begins > 0
    fed = np.where(motions.kind == MotionKind.FEED, motions.end[:, 2], np.inf)
    for begin, end in zip(begins[mixed], ends[mixed], strict=True):
        deepest = np.minimum.accumulate(fed[begin:end])
        found[begin:end] = wanted[begin:end] & (motions.end[begin:end, 2] >= deepest - _SAME_MM)
    return found


def _straight_back(motions: Motions) -> Flags:
    """Back along the line of the feed before, no farther than where that began."""
    found = np.zeros(len(motions), np.bool_)
    way, back = (motions.start - motions.end)[:-1], (motions.end - motions.start)[1:]
    long, short = np.linalg.norm(way, axis=1), np.linalg.norm(back, axis=1)
    aside = np.linalg.norm(np.cross(way, back), axis=1)
    same = (aside <= 1e-6 * np.maximum(long * short, 1.0)) & (np.einsum("ij,ij->i", way, back) > 0.0)
    kinds = (motions.kind[1:] == MotionKind.RAPID) & (motions.kind[:-1] == MotionKind.FEED)
    found[1:] = kinds & same & (short <= long + _SAME_MM) & _follows(motions)
    return found


def _follows(motions: Motions) -> Flags:
    """(n - 1,) bool, motions that begin where the one before ended, with its tool and offset."""
    joined = np.abs(motions.start[1:] - motions.end[:-1]) <= _SAME_MM
    same_tool = motions.tool[1:] == motions.tool[:-1]
    found: Flags = joined.all(axis=1) & same_tool & (motions.work_offset[1:] == motions.work_offset[:-1])
    return found
