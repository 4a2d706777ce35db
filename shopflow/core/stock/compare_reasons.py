"""Differences that have a reason: inside corners, edges broken on purpose, threads."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock import compare_kernels
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.compare_expected import Expected
from shopflow.core.stock.compare_samples import Samples
from shopflow.core.stock.compare_surface import Edges, Surface

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_ALONG_COS = 0.99
_ACROSS_COS = 0.05

THREAD_BLUR = 1.2


def left_in_corners(
    samples: Samples, surface: Surface, columns: Columns, over: Flags, meant: Expected, slack: float
) -> Flags:
    """(n,) which of the samples under stock a round tool of the expected size could not reach.

    In the plane across an inside edge a disc that touches both walls leaves what lies between it and the edge: of the
    tool's radius where the edge runs along the tool, of its corner's where it runs across. Stock on the wall beside the
    edge shows on the rest of the wall.
    """
    explained = np.zeros(len(samples), np.uint8)
    rows = np.flatnonzero(over)
    discs = _discs(surface.edges, columns, meant) if len(rows) else np.zeros((0, 11))
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


def drilled_bottoms(samples: Samples, off: Flags, meant: Expected, slack: float) -> Flags:
    """(n,) which of the samples lie at the bottom of a blind hole, off by no more than the drill's point explains.

    A point longer than the drawn one goes below the floor by the difference, or leaves a cone over its rim that stands
    from the wall as far as the middle.
    """
    explained = np.zeros(len(samples), np.bool_)
    rows = np.flatnonzero(off)
    for bottom in meant.bottoms:
        away = np.array(bottom.mouth) - samples.points[rows]
        depth = away @ np.array(bottom.axis)
        aside = np.linalg.norm(away - depth[:, None] * np.array(bottom.axis), axis=1)
        most = max(bottom.point_mm, THREAD_BLUR * bottom.radius_mm) + slack
        within = (samples.deviation[rows] <= most) & (samples.deviation[rows] >= -bottom.point_mm - slack)
        at_bottom = (depth >= bottom.depth_mm - bottom.point_mm - slack) & (depth <= bottom.depth_mm + most)
        explained[rows] |= within & at_bottom & (aside <= bottom.radius_mm + slack)
    return explained


def _discs(edges: Edges, columns: Columns, meant: Expected) -> Floats:
    """(e, 11) the inside edges with the disc that rolls into each, as the kernel reads them; those with a radius."""
    along = np.abs(edges.way @ np.array(meant.axis))
    slanted = max(meant.tool_radius_mm, meant.corner_radius_mm)
    upright, level = along > _ALONG_COS, along < _ACROSS_COS
    came = _that_came(edges, columns, meant)
    radius = np.where(upright, came, np.where(level, meant.corner_radius_mm, slanted))
    wanted = edges.is_inside & (radius > 0.0)
    middle, size = _bisectors(edges)
    far = (2.0 * radius / size)[:, None] * middle
    return np.ascontiguousarray(np.hstack((_lines(edges), far, radius[:, None]))[wanted])


def _that_came(edges: Edges, columns: Columns, meant: Expected) -> Floats:
    """(e,) radius of the smallest mill that took the material beside the middle of each edge; the smallest of all where
    none did."""
    middle, size = _bisectors(edges)
    place = edges.start + 0.5 * edges.length[:, None] * edges.way
    radius = np.full(len(edges.length), meant.tool_radius_mm)
    for larger in sorted(meant.larger_radii_mm, reverse=True):
        # From the edge to the nearest place that its disc sweeps, and a cell more.
        reach = larger * (2.0 / size - 1.0) + columns.pitch
        radius[~_is_solid(columns, place + reach[:, None] * middle)] = larger
    reach = meant.tool_radius_mm * (2.0 / size - 1.0) + columns.pitch
    radius[~_is_solid(columns, place + reach[:, None] * middle)] = meant.tool_radius_mm
    return radius


def _bisectors(edges: Edges) -> tuple[Floats, Floats]:
    """(e, 3) unit vectors out of the corner between both faces, and (e,) the length of the sum of their normals."""
    middle = edges.one + edges.other
    size = np.maximum(np.linalg.norm(middle, axis=1), 1e-9)
    return middle / size[:, None], size


def _is_solid(columns: Columns, places: Floats) -> Flags:
    """(n,) whether the vertical column nearest to each place has material at its height; none outside the grid."""
    one, cells = columns.along(2), np.floor((places - np.array(columns.origin)) / columns.pitch).astype(np.int64)
    inside = (cells[:, :2] >= 0).all(axis=1) & (cells[:, :2] < np.array(columns.shape[:2])).all(axis=1)
    i, j = (np.clip(cells[:, axis], 0, columns.shape[axis] - 1) for axis in (0, 1))
    used = np.arange(one.capacity) < one.count[i, j][:, None]
    ends, z = one.ends[i, j], places[:, 2:]
    solid: Flags = inside & (used & (ends[..., 0] < z) & (z < ends[..., 1])).any(axis=1)
    return solid


def _lines(edges: Edges) -> Floats:
    return np.hstack((edges.start, edges.way, edges.length[:, None]))
