"""Everything that a program moves, as arrays."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, IntFlag

import numpy as np
from numpy.typing import NDArray


class MotionKind(IntEnum):
    RAPID = 0
    FEED = 1
    ARC = 2
    DWELL = 3


class Coolant(IntFlag):
    OFF = 0
    MIST = 1
    FLOOD = 2
    THROUGH = 4
    AIR = 8


@dataclass(frozen=True)
class Motions:
    """Everything a program moves, one row a motion, n rows; positions in the active work offset's coordinates, mm.

    kind: (n,) uint8 MotionKind. line: (n,) int32, line of the file, counted from 1.
    start, end: (n, 3) float64. start_known: (n, 3) bool, False where the start is only assumed (first move, after G28,
    after a change of work offset). centre: (n, 3) float64, NaN unless an arc. plane: (n,) uint8 17, 18 or 19.
    turn_deg: (n,) float64, signed sweep of an arc, positive counter-clockwise seen from the plane's positive normal,
    |turn| = 360 for a full circle, more for several; 0 unless an arc.
    feed_mm_min: (n,) float64, NaN unless it feeds. dwell_s: (n,) float64.
    rpm: (n,) float64 commanded speed; spindle: (n,) int8, 1 clockwise, -1 counter-clockwise, 0 stopped.
    coolant: (n,) uint8 Coolant bits. tool: (n,) int32 in the spindle, 0 none.
    length_offset, radius_offset: (n,) int32, H and D in force, 0 none. radius_side: (n,) int8, 41 or 42 or 0.
    work_offset: (n,) uint8, 1 is G54; 0 is machine coordinates (G53, G28, G30).
    cycle: (n,) uint8, number of the canned cycle that the motion belongs to (73, 76, 81 … 89), 0 none.
    """

    kind: NDArray[np.uint8]
    line: NDArray[np.int32]
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    start_known: NDArray[np.bool_]
    centre: NDArray[np.float64]
    plane: NDArray[np.uint8]
    turn_deg: NDArray[np.float64]
    feed_mm_min: NDArray[np.float64]
    dwell_s: NDArray[np.float64]
    rpm: NDArray[np.float64]
    spindle: NDArray[np.int8]
    coolant: NDArray[np.uint8]
    tool: NDArray[np.int32]
    length_offset: NDArray[np.int32]
    radius_offset: NDArray[np.int32]
    radius_side: NDArray[np.int8]
    work_offset: NDArray[np.uint8]
    cycle: NDArray[np.uint8]

    def __len__(self) -> int:
        return int(self.kind.shape[0])

    @property
    def feeds(self) -> NDArray[np.bool_]:
        """(n,) bool, whether it goes at feed, along a line or an arc."""
        feeds: NDArray[np.bool_] = (self.kind == MotionKind.FEED) | (self.kind == MotionKind.ARC)
        return feeds
