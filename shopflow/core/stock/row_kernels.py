"""What numba compiles into vector instructions: the lower end of a swept body over one row of columns.

A row runs in y at one x. In the frame of a move, as `sweep_kernels` has it, u and v of the row's first column and how
they change from one column to the next say where each column is. Heights come as float32, as columns keep them.
"""

from __future__ import annotations

import math

import numpy as np

from shopflow.core.stock.columns import Ends, Floats
from shopflow.core.stock.compiled import compiled_for_rows, compiled_for_sums, compiled_inline
from shopflow.core.stock.sweep_kernels import NOTHING, lowest


@compiled_for_rows
def highest_of(tops: Ends, i: int, first: int, number: int) -> float:
    """Highest of `number` tops in row i from the first on.

    Whole arrays and where to look in them: a view of a row would count its users, which threads do one after another.
    """
    found = np.float32(-np.inf)
    for q in range(number):
        found = max(found, tops[i, first + q])
    return float(found)


@compiled_for_rows
def goes_under(heights: Ends, tops: Ends, i: int, first: int, number: int) -> bool:
    """Whether any of the heights lies under the top of its column in row i."""
    met = np.int32(0)
    for q in range(number):
        met |= np.int32(heights[q] < tops[i, first + q])
    return bool(met != 0)


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
    out: Ends, raised: Floats,
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
        raised[q] = rise * s


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
    curve: float, end: int, number: int, out: Ends, raised: Floats,
) -> None:  # fmt: skip
    """Heights of the swept lower end over `number` columns, NOTHING where it does not come.

    raised: how far the tip has come up from the start of the move where it is lowest over each.
    """
    if rise != 0.0:
        if end == 1 and flat == 0.0:
            ball_slope_row(u, v, du, dv, length, start, rise, radius, number, out, raised)
            return
        for q in range(number):
            relative, s = lowest(u + q * du, v + q * dv, length, rise, flat, radius, curve, end)
            out[q] = start + relative
            raised[q] = rise * s
        return
    for q in range(number):
        raised[q] = 0.0
    if flat >= radius:
        flat_row(u, v, du, dv, length, start, radius, number, out)
    elif end == 0:
        cone_row(u, v, du, dv, length, start, flat, radius, curve, number, out)
    elif flat == 0.0:
        ball_row(u, v, du, dv, length, start, radius, number, out)
    else:
        corner_row(u, v, du, dv, length, start, flat, radius, curve, number, out)


@compiled_for_sums
def lower_tops(
    tops: Ends, i: int, first: int, bases: Ends, at: int, aside: int, heights: Ends, raised: Floats, number: int,
    tip: float, v: float, dv: float, engaged: float,
) -> tuple[float, int, int, float, float, float, float]:  # fmt: skip
    """Lower the tops of row i from the first on to the heights, where these lie within the topmost piece.

    bases: lower ends of the topmost pieces, in row `at` from `aside` on. tip: height of the tool's tip at the start of
    its move. v, dv: place of the row's first column across the move, and from one column to the next. Length taken,
    columns that lost something, columns whose topmost piece goes whole (left as they are), longest piece taken, deepest
    cut over the tip, and leftmost and rightmost place that lost more than `engaged`.
    """
    taken, thickest, deepest = 0.0, 0.0, 0.0
    left, right = NOTHING, -NOTHING
    lost, whole = np.int32(0), np.int32(0)
    for q in range(number):
        top, height = tops[i, first + q], heights[q]
        is_lower = height < top
        is_cut = is_lower & (height > bases[at, aside + q])
        gone = np.float64(top) - np.float64(height) if is_cut else 0.0
        over = np.float64(top) - tip - raised[q] if is_cut else 0.0
        across = v + np.int32(q) * dv
        is_wide = gone > engaged
        taken += gone
        thickest = max(thickest, gone)
        deepest = max(deepest, over)
        left = min(left, across if is_wide else NOTHING)
        right = max(right, across if is_wide else -NOTHING)
        lost += np.int32(is_cut)
        whole += np.int32(is_lower)
        tops[i, first + q] = height if is_cut else top
    return taken, int(lost), int(whole - lost), thickest, deepest, left, right


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


@compiled_for_rows
def nowhere(near: Floats, far: Floats, number: int) -> None:
    for q in range(number):
        near[q], far[q] = NOTHING, -NOTHING


@compiled_for_rows
def ball_ranges(
    start: float, da: float, db: float, above: float, dz: float, begin: float, finish: float, radius: float,
    first: float, step: float, number: int, near: Floats, far: Floats,
) -> None:  # fmt: skip
    """Widen [near, far] of each of `number` lines by what a ball covers of it that goes in a straight line.

    start: place of its middle along the lines at the start. da, db, dz: way along, across and up; begin, finish: the
    share of it that counts. first: place of the first line across from the start; above: height of the lines over it.

    At share s a line is covered as far as start + s da ± √(radius² - |p - s e|²), with p = (across, above) and
    e = (db, dz). Its end is where the slope over s vanishes, or at an end of the share: far is concave, near convex.
    """
    squared = radius * radius
    level = max(db * db + dz * dz, 1e-18)
    stretch = 1.0 / (level * (level + da * da))
    for q in range(number):
        across = first + np.int32(q) * step
        along = (across * db + above * dz) / level
        rest = squared - across * across - above * above + along * along * level
        aside = da * math.sqrt(max(rest, 0.0) * stretch)
        one = min(max(along - aside, begin), finish)
        two = min(max(along + aside, begin), finish)
        left_one = squared - (across - one * db) * (across - one * db) - (above - one * dz) * (above - one * dz)
        left_two = squared - (across - two * db) * (across - two * db) - (above - two * dz) * (above - two * dz)
        low = start + one * da - math.sqrt(max(left_one, 0.0))
        high = start + two * da + math.sqrt(max(left_two, 0.0))
        near[q] = min(near[q], low if left_one >= 0.0 else NOTHING)
        far[q] = max(far[q], high if left_two >= 0.0 else -NOTHING)


@compiled_for_rows
def rounded(near: Floats, far: Floats, number: int, low: Ends, high: Ends) -> None:
    """As columns keep them."""
    for q in range(number):
        low[q], high[q] = near[q], far[q]


@compiled_for_rows
def meets_any(low: Ends, high: Ends, gaps: Ends, j: int, first: int, number: int) -> bool:
    """Whether any of the ranges from low to high reaches out of what is known to be empty: gaps (2, rows, columns), row
    j from the first column on."""
    met = np.int32(0)
    for q in range(number):
        leaves = (low[q] < gaps[0, j, first + q]) | (high[q] > gaps[1, j, first + q])
        met |= np.int32(leaves & (low[q] < high[q]))
    return bool(met != 0)


@compiled_for_sums
def widen_gaps(low: Ends, high: Ends, gaps: Ends, j: int, first: int, number: int) -> tuple[float, int, int, float]:
    """Widen the gaps of row j from the first column on by the ranges, where these begin and end in the gap or in the
    pieces beside it.

    gaps: as `side_kernels.cut` says. Length taken, columns that lost something, columns where the range does more than
    that (left as they are), longest piece taken.
    """
    taken, thickest = 0.0, 0.0
    lost, met = np.int32(0), np.int32(0)
    for q in range(number):
        at = first + q
        begin, end, empty_from, empty_to = low[q], high[q], gaps[0, j, at], gaps[1, j, at]
        is_low, is_high = begin < empty_from, end > empty_to
        is_met = (is_low | is_high) & (begin < end)
        near = (begin <= empty_to) & (end >= empty_from)
        within = ((begin > gaps[2, j, at]) | (begin >= empty_from)) & ((end < gaps[3, j, at]) | (end <= empty_to))
        is_cut = is_met & near & within
        below = np.float64(empty_from) - np.float64(begin) if is_cut & is_low else 0.0
        over = np.float64(end) - np.float64(empty_to) if is_cut & is_high else 0.0
        taken += below + over
        thickest = max(thickest, below + over)
        lost += np.int32(is_cut)
        met += np.int32(is_met)
        gaps[0, j, at] = begin if is_cut & is_low else empty_from
        gaps[1, j, at] = end if is_cut & is_high else empty_to
    return taken, int(lost), int(met - lost), thickest


def warm() -> None:
    """Compile for the types that a run has."""
    out, numbers = np.zeros(1, np.float32), np.zeros(1)
    tops = np.zeros((2, 1, 1), np.float32)
    highest_of(tops[0], 0, 0, 1)
    goes_under(out, tops[0], 0, 0, 1)
    for rise, flat, end in ((0.0, 1.0, 0), (0.0, 0.5, 0), (0.0, 0.0, 1), (0.0, 0.5, 1), (1.0, 0.0, 1), (1.0, 0.5, 1)):
        lower_row(0.0, 0.0, 0.1, 0.1, 1.0, 0.0, rise, flat, 1.0, 1.0 - flat, end, 1, out, numbers)
    lower_tops(tops[0], 0, 0, tops[1], 0, 0, out, numbers, 1, 0.0, 0.0, 0.1, 0.0)
    disc_ranges(0.0, 0.0, 0.0, 1.0, 0.0, 0.1, 1, numbers, numbers.copy())
    rounded(numbers, numbers, 1, out, out)
    nowhere(numbers, numbers.copy(), 1)
    ball_ranges(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 0.0, 0.1, 1, numbers, numbers.copy())
    gaps = np.zeros((4, 1, 1), np.float32)
    meets_any(out, out, gaps, 0, 0, 1)
    widen_gaps(out, out, gaps, 0, 0, 1)
