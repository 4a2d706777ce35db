"""The look-ahead loop of `time`, as numba compiles it; it runs as plain Python too."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import cast

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def plan(length: Floats, speed: Floats, acceleration: Floats, corner: Floats) -> Floats:
    """Seconds of each of m motions that run into each other.

    length mm, speed mm/s, acceleration mm/s²: (m,). corner: (m,) mm/s allowed into each motion, 0 from rest; after the
    last one the machine stops.
    """
    count = length.shape[0]
    entry = np.zeros(count + 1)
    for index in range(count - 1, -1, -1):
        reachable = np.sqrt(entry[index + 1] ** 2 + 2.0 * acceleration[index] * length[index])
        entry[index] = min(corner[index], reachable)
    seconds = np.zeros(count)
    for index in range(count):
        begin = entry[index]
        reachable = np.sqrt(begin**2 + 2.0 * acceleration[index] * length[index])
        entry[index + 1] = min(entry[index + 1], reachable)
        finish = entry[index + 1]
        peak = np.sqrt((2.0 * acceleration[index] * length[index] + begin**2 + finish**2) / 2.0)
        if peak <= speed[index]:
            seconds[index] = (2.0 * peak - begin - finish) / acceleration[index]
        else:
            top = speed[index]
            ramps = (2.0 * top - begin - finish) / acceleration[index]
            ramp_way = (2.0 * top**2 - begin**2 - finish**2) / (2.0 * acceleration[index])
            seconds[index] = ramps + (length[index] - ramp_way) / top
    return seconds


@cache
def compiled_plan() -> Callable[[Floats, Floats, Floats, Floats], Floats]:
    """`plan` compiled; numba is imported here, so that short programs and commands start without it."""
    from numba import njit

    return cast("Callable[[Floats, Floats, Floats, Floats], Floats]", njit(cache=True)(plan))


def warm() -> None:
    """Compile `plan` for the types it is called with, or read it from numba's cache."""
    compiled_plan()(np.ones(1), np.ones(1), np.ones(1), np.zeros(1))
