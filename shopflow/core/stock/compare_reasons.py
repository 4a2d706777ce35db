"""Differences that have a reason: inside corners, edges broken on purpose, threads."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import compare_kernels
from shopflow.core.stock.compare_expected import Expected
from shopflow.core.stock.compare_samples import Samples
from shopflow.core.stock.compare_surface import Edges, Surface

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_ALONG_COS = 0.99
_ACROSS_COS = 0.05

THREAD_BLUR = 1.2


def left_in_corners(samples: Samples, surface: Surface, over: Flags, meant: Expected, slack: float) -> Flags:
    """(n,) which of the samples under stock a round tool of the expected size could not reach.

    In the plane across an inside edge a disc that touches both walls leaves what lies between it and the edge: of the
    tool's radius where the edge runs along the tool, of its corner's where it runs across. Stock on the wall beside the
    edge shows on the rest of the wall.
    """
    explained = np.zeros(len(samples), np.uint8)
    rows = np.flatnonzero(over)
    discs = _discs(surface.edges, meant)
    if len(rows) and len(discs):
        marked = np.zeros(len(rows), np.uint8)
        compare_kernels.left_by_round_tool(samples.points[rows], discs, slack, marked)
        explained[rows] = marked
    return explained.astype(np.bool_)


def broken_edges(samples: Samples, surface: Surface, under: Flags, meant: Expected, slack: float) -> Flags:
    """(n,) which of the gouged samples lie in a break of an outside edge: a leg of 45° no longer than expected."""
    explained = np.zeros(len(samples), np.bool_)
    rows, leg = np.flatnonzero(under), meant.edge_break_mm
    outside = ~surface.edges.is_inside
    if leg > 0.0 and len(rows) and outside.any():
        distance = np.zeros(len(rows))
        compare_kernels.from_edges(samples.points[rows], _lines(surface.edges)[outside], leg + slack, distance)
        explained[rows] = distance - samples.deviation[rows] <= leg + slack
    return explained


def threads(samples: Samples, off: Flags, meant: Expected, slack: float) -> Flags:
    """(n,) which of the samples lie in a threaded hole and are off by no more than the thread's depth.

    On so small a radius a distance along a column is up to a sixth too long (see `samples_of`).
    """
    explained = np.zeros(len(samples), np.bool_)
    for face, depth in meant.threads.items():
        explained |= off & (samples.face == face) & (np.abs(samples.deviation) <= THREAD_BLUR * depth + slack)
    return explained


def _discs(edges: Edges, meant: Expected) -> Floats:
    """(e, 11) the inside edges with the disc that rolls into each, as the kernel reads them; those with a radius."""
    along = np.abs(edges.way @ np.array(meant.axis))
    slanted = max(meant.tool_radius_mm, meant.corner_radius_mm)
    upright, level = along > _ALONG_COS, along < _ACROSS_COS
    radius = np.where(upright, meant.tool_radius_mm, np.where(level, meant.corner_radius_mm, slanted))
    wanted = edges.is_inside & (radius > 0.0)
    middle = edges.one + edges.other
    size = np.maximum(np.linalg.norm(middle, axis=1), 1e-9)
    far = (2.0 * radius / size)[:, None] * middle / size[:, None]
    return np.ascontiguousarray(np.hstack((_lines(edges), far, radius[:, None]))[wanted])


def _lines(edges: Edges) -> Floats:
    return np.hstack((edges.start, edges.way, edges.length[:, None]))
