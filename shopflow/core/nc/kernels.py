"""What numba compiles: plain motion lines from bytes to rows. `fast` calls it; it runs as plain Python too.

A plain line holds at most an N word, one G0 or G1, and X, Y, Z and F words with literal numbers. At any other line the
kernel stops and leaves that line to the full reader.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any, cast

POWERS = tuple(10.0**power for power in range(16))
"""Exact in floating point, so that a mantissa of at most 15 digits over one of them is rounded once, as float() is."""


def read_plain(
    data: Any,
    starts: Any,
    ends: Any,
    first: int,
    last: int,
    settings: Any,
    state: Any,
    known: Any,
    out_line: Any,
    out_kind: Any,
    out_start: Any,
    out_end: Any,
    out_start_known: Any,
    out_end_known: Any,
    out_feed: Any,
) -> tuple[int, int]:
    """Read lines first to last (from 0, last excluded) as far as they are plain; (lines read, rows written).

    data: uint8. starts, ends: int64, of all lines. settings: float64 (8,): unit in mm, absolute 0 or 1, shift X Y Z mm,
    whether a number needs a point, most digits of N, most characters of a line (0: any). state: float64 (5,), changed:
    X Y Z mm, feed mm/min (NaN: none), motion 0 or 1 (-1: none may be understood). known: bool (3,), changed. out_…: at
    least last - first rows.
    """
    unit, is_absolute, needs_point, most_digits = settings[0], settings[1], settings[5], settings[6]
    row = 0
    words = [0.0, 0.0, 0.0, 0.0]
    given = [False, False, False, False]
    for index in range(first, last):
        at, end = starts[index], ends[index]
        if settings[7] > 0.0 and end - at > settings[7]:
            return index - first, row
        motion = state[4]
        for slot in range(4):
            given[slot] = False
        has_code = False
        has_word = False
        while at < end:
            letter = data[at]
            at += 1
            if letter == 32 or letter == 9:
                continue
            if letter >= 97:
                letter -= 32
            negative = False
            mantissa = 0
            digits = 0
            decimals = -1
            is_number = False
            while at < end:
                byte = data[at]
                if 48 <= byte <= 57:
                    mantissa = mantissa * 10 + (byte - 48)
                    digits += 1
                    is_number = True
                    if decimals >= 0:
                        decimals += 1
                    if digits > 15:
                        return index - first, row
                elif byte == 46 and decimals < 0:
                    decimals = 0
                elif byte == 45 and not is_number and decimals < 0 and not negative:
                    negative = True
                elif byte != 32 and byte != 9:
                    break
                at += 1
            if not is_number:
                return index - first, row
            if letter == 78:  # N
                if has_word or negative or decimals >= 0 or digits > most_digits:
                    return index - first, row
                has_word = True
                continue
            has_word = True
            if letter == 71:  # G
                if has_code or negative or decimals >= 0 or mantissa > 1:
                    return index - first, row
                has_code = True
                motion = float(mantissa)
                continue
            slot = 3
            if letter == 88 or letter == 89 or letter == 90:  # X Y Z
                slot = letter - 88
            elif letter != 70:  # F
                return index - first, row
            if given[slot] or (needs_point > 0.0 and decimals < 0 and slot < 3):
                return index - first, row
            value = mantissa / POWERS[max(decimals, 0)]
            if value > 1e9:
                return index - first, row
            words[slot] = -value if negative else value
            given[slot] = True
        has_axis = given[0] or given[1] or given[2]
        if not has_axis:
            if has_code or given[3]:
                return index - first, row
            continue
        if motion < 0.0 or (given[3] and (motion == 0.0 or words[3] <= 0.0)):
            return index - first, row
        feed = words[3] * unit if given[3] else state[3]
        if motion == 1.0 and not feed > 0.0:
            return index - first, row
        if is_absolute == 0.0:
            for axis in range(3):
                if given[axis] and not known[axis]:
                    return index - first, row
        for axis in range(3):
            out_start[row, axis] = state[axis]
            out_start_known[row, axis] = known[axis]
            if given[axis]:
                length = words[axis] * unit
                state[axis] = length + settings[2 + axis] if is_absolute > 0.0 else state[axis] + length
                known[axis] = True
            out_end[row, axis] = state[axis]
            out_end_known[row, axis] = known[axis]
        state[3] = feed
        state[4] = motion
        out_line[row] = index + 1
        out_kind[row] = 0 if motion == 0.0 else 1
        out_feed[row] = feed if motion == 1.0 else float("nan")
        row += 1
    return last - first, row


Kernel = Callable[..., tuple[int, int]]


@cache
def compiled() -> Kernel:
    """`read_plain` compiled; numba is imported here, so that short programs and commands start without it."""
    from numba import njit

    return cast("Kernel", njit(cache=True)(read_plain))


def warm() -> None:
    """Compile the kernel, or take it from the cache, by reading two short lines with it."""
    import numpy as np

    data = np.frombuffer(b"X1\nY1", dtype=np.uint8)
    rows, three = 2, 3
    compiled()(
        data,
        np.array([0, 3], dtype=np.int64),
        np.array([2, 5], dtype=np.int64),
        0,
        2,
        np.array([1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 5.0, 0.0]),
        np.zeros(5),
        np.zeros(three, dtype=np.bool_),
        np.zeros(rows, dtype=np.int32),
        np.zeros(rows, dtype=np.uint8),
        np.zeros((rows, three)),
        np.zeros((rows, three)),
        np.zeros((rows, three), dtype=np.bool_),
        np.zeros((rows, three), dtype=np.bool_),
        np.zeros(rows),
    )
