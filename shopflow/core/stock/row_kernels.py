"""What numba compiles into vector instructions: the lower end of a swept body over one row of columns.

A row runs in y at one x. In the frame of a move, as `sweep_kernels` has it, u and v of the row's first column and how
they change from one column to the next say where each column is. Heights come as float32, as columns keep them.
"""

from __future__ import annotations

import math

import numpy as np

from shopflow.core.stock.columns import Ends, Floats
from shopflow.core.stock.compiled import compiled_for_rows, compiled_inline
from shopflow.core.stock.sweep_kernels import NOTHING, lowest


@compiled_for_rows
def highest_of(tops: Ends, first: int, number: int) -> float:
    """Highest of `number` tops from the first on."""
    found = np.float32(-np.inf)
    for q in range(number):
        found = max(found, tops[first + q])
    return float(found)


@compiled_for_rows
def flat_row(
    u: float, v: float, du: float, dv: float, length: float, start: float, radius: float, number: int, out: Ends
) -> None:
    """A flat end on a level move."""
    for q in range(number):
        step = np.int32(q)
        a, b = u + step * du, v + step * dv
        away = a - min(max(a, 0.0), length)
        out[q] = start if away * away + b * b <= radius * radius else NOTHING


@compiled_for_rows
def ball_row(
    u: float, v: float, du: float, dv: float, length: float, start: float, radius: float, number: int, out: Ends
) -> None:
    """A ball on a level move."""
    squared = radius * radius
    for q in range(number):
        step = np.int32(q)
        a, b = u + step * du, v + step * dv
        away = a - min(max(a, 0.0), length)
        left = squared - (away * away + b * b)
        height = start + radius - math.sqrt(max(left, 0.0))
        out[q] = height if left >= 0.0 else NOTHING


@compiled_for_rows
def ball_slope_row(
    u: float, v: float, du: float, dv: float, length: float, start: float, rise: float, radius: float, number: int,
    out: Ends,
) -> None:  # fmt: skip
    """A ball on a sloping move: lowest where the sphere's slope is the move's, or at an end of the move."""
    squared = radius * radius
    lean = rise / math.sqrt(1.0 + rise * rise)
    for q in range(number):
        step = np.int32(q)
        a, b = u + step * du, v + step * dv
        across = math.sqrt(max(squared - b * b, 0.0))
        s = min(max(a - lean * across, 0.0), length)
        left = squared - ((a - s) * (a - s) + b * b)
        height = start + rise * s + radius - math.sqrt(max(left, 0.0))
        out[q] = height if left >= 0.0 else NOTHING


@compiled_for_rows
def corner_row(
    u: float, v: float, du: float, dv: float, length: float, start: float, flat: float, radius: float, curve: float,
    number: int, out: Ends,
) -> None:  # fmt: skip
    """A rounded corner on a level move."""
    for q in range(number):
        step = np.int32(q)
        a, b = u + step * du, v + step * dv
        along = a - min(max(a, 0.0), length)
        squared = along * along + b * b
        away = max(math.sqrt(squared) - flat, 0.0)
        height = start + curve - math.sqrt(max(curve * curve - away * away, 0.0))
        out[q] = height if squared <= radius * radius else NOTHING


@compiled_for_rows
def cone_row(
    u: float, v: float, du: float, dv: float, length: float, start: float, flat: float, radius: float, curve: float,
    number: int, out: Ends,
) -> None:  # fmt: skip
    """A cone on a level move."""
    for q in range(number):
        step = np.int32(q)
        a, b = u + step * du, v + step * dv
        along = a - min(max(a, 0.0), length)
        squared = along * along + b * b
        height = start + curve * max(math.sqrt(squared) - flat, 0.0)
        out[q] = height if squared <= radius * radius else NOTHING


@compiled_inline
def lower_row(
    u: float, v: float, du: float, dv: float, length: float, start: float, rise: float, flat: float, radius: float,
    curve: float, end: int, number: int, out: Ends,
) -> None:  # fmt: skip
    """Heights of the swept lower end over `number` columns, NOTHING where it does not come."""
    if rise != 0.0:
        if end == 1 and flat == 0.0:
            ball_slope_row(u, v, du, dv, length, start, rise, radius, number, out)
            return
        for q in range(number):
            relative, _ = lowest(u + q * du, v + q * dv, length, rise, flat, radius, curve, end)
            out[q] = start + relative
    elif flat >= radius:
        flat_row(u, v, du, dv, length, start, radius, number, out)
    elif end == 0:
        cone_row(u, v, du, dv, length, start, flat, radius, curve, number, out)
    elif flat == 0.0:
        ball_row(u, v, du, dv, length, start, radius, number, out)
    else:
        corner_row(u, v, du, dv, length, start, flat, radius, curve, number, out)


@compiled_for_rows
def disc_ranges(
    nearer: float, farther: float, across: float, radius: float, first: float, step: float, number: int, near: Floats,
    far: Floats,
) -> None:  # fmt: skip
    """Widen [near, far] of each of `number` lines across by what a disc covers of it that goes from nearer to
    farther."""
    squared = radius * radius
    for q in range(number):
        away = first + np.int32(q) * step - across
        left = squared - away * away
        half = math.sqrt(max(left, 0.0))
        low = nearer - half if left >= 0.0 else NOTHING
        high = farther + half if left >= 0.0 else -NOTHING
        near[q] = min(near[q], low)
        far[q] = max(far[q], high)


def warm() -> None:
    """Compile for the types that a run has."""
    out, numbers = np.zeros(1, np.float32), np.zeros(1)
    highest_of(out, 0, 1)
    for rise, flat, end in ((0.0, 1.0, 0), (0.0, 0.5, 0), (0.0, 0.0, 1), (0.0, 0.5, 1), (1.0, 0.0, 1), (1.0, 0.5, 1)):
        lower_row(0.0, 0.0, 0.1, 0.1, 1.0, 0.0, rise, flat, 1.0, 1.0 - flat, end, 1, out)
    disc_ranges(0.0, 0.0, 0.0, 1.0, 0.0, 0.1, 1, numbers, numbers.copy())
