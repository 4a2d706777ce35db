"""What numba compiles for columns as such: intervals taken out, two states compared."""

from __future__ import annotations

import numpy as np

from shopflow.core.stock.columns import Counts, Ends, Floats
from shopflow.core.stock.compiled import compiled


@compiled
def take_out(count: Counts, ends: Ends, i: int, j: int, low: float, high: float) -> float:
    """Take (low, high) out of column (i, j); the length that went, mm, or -1 where a piece more has no room.

    Nothing is changed where there is no room. low and high are rounded to float32 first, so that the same cut twice
    takes nothing the second time.
    """
    low, high = np.float32(low), np.float32(high)  # type: ignore[assignment]
    pieces = count[i, j]
    gone = 0.0
    first = 0
    while first < pieces and ends[i, j, first, 1] <= low:
        first += 1
    if first == pieces or ends[i, j, first, 0] >= high:
        return 0.0
    if ends[i, j, first, 0] < low and ends[i, j, first, 1] > high:
        if pieces == ends.shape[2]:
            return -1.0
        for k in range(pieces, first, -1):
            ends[i, j, k, 0] = ends[i, j, k - 1, 0]
            ends[i, j, k, 1] = ends[i, j, k - 1, 1]
        ends[i, j, first, 1] = low
        ends[i, j, first + 1, 0] = high
        count[i, j] = pieces + 1
        return np.float64(high) - np.float64(low)
    if ends[i, j, first, 0] < low:
        gone += np.float64(ends[i, j, first, 1]) - np.float64(low)
        ends[i, j, first, 1] = low
        first += 1
    last = first
    while last < pieces and ends[i, j, last, 1] <= high:
        gone += np.float64(ends[i, j, last, 1]) - np.float64(ends[i, j, last, 0])
        last += 1
    if last < pieces and ends[i, j, last, 0] < high:
        gone += np.float64(high) - np.float64(ends[i, j, last, 0])
        ends[i, j, last, 0] = high
    if last > first:
        for k in range(last, pieces):
            ends[i, j, first + k - last, 0] = ends[i, j, k, 0]
            ends[i, j, first + k - last, 1] = ends[i, j, k, 1]
        count[i, j] = pieces - (last - first)
    return gone


@compiled
def take_out_all(count: Counts, ends: Ends, low: Floats, high: Floats) -> int:
    """Take one interval out of each column; low, high: (n, m) float64, nothing where high <= low.

    The number of columns that had no room for a piece more; those are unchanged.
    """
    without_room = 0
    for i in range(count.shape[0]):
        for j in range(count.shape[1]):
            if high[i, j] > low[i, j] and take_out(count, ends, i, j, low[i, j], high[i, j]) < 0.0:
                without_room += 1
    return without_room


@compiled
def longest_apart(count_a: Counts, ends_a: Ends, count_b: Counts, ends_b: Ends) -> float:
    """The longest stretch, mm, that is material in one of two states and not in the other, over all columns."""
    longest = 0.0
    for i in range(count_a.shape[0]):
        for j in range(count_a.shape[1]):
            a, b = 2 * count_a[i, j], 2 * count_b[i, j]
            at_a, at_b = 0, 0
            begin = 0.0
            while at_a < a or at_b < b:
                was_apart = (at_a + at_b) % 2 == 1
                next_a = ends_a[i, j, at_a // 2, at_a % 2] if at_a < a else np.float32(np.inf)
                next_b = ends_b[i, j, at_b // 2, at_b % 2] if at_b < b else np.float32(np.inf)
                here = np.float64(min(next_a, next_b))
                if was_apart:
                    longest = max(longest, here - begin)
                begin = here
                if next_a <= next_b:
                    at_a += 1
                if next_b <= next_a:
                    at_b += 1
    return longest


def warm() -> None:
    """Compile for the types that columns have."""
    count, ends = np.ones((1, 1), np.uint8), np.ones((1, 1, 2, 2), np.float32)
    take_out_all(count, ends, np.zeros((1, 1)), np.zeros((1, 1)))
    longest_apart(count, ends, count, ends)
