"""The fast path: stretches of plain motion lines read at once, with the same rows as the full reader gives."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.nc import kernels
from shopflow.core.nc.blocks import LONGEST_BLOCK
from shopflow.core.nc.reading import Reading
from shopflow.core.nc.state import NAMES, ROW, Columns
from shopflow.core.nc.text import Source
from shopflow.core.types import DecimalRule

CHUNK = 65_536
"""Lines read in one go; bounds the memory that is held twice."""

COMPILE_FROM = 15_000
"""Lines from which starting the compiler pays; once it runs in this process, a tenth of a second's worth does."""

COMPILED_FROM = 300

_ASSUMED = {"units": "units-not-stated", "distance": "distance-not-stated", "offset": "offset-not-stated"}
_LONGEST_PAUSE = 64
_SHAPES: dict[str, np.dtype[Any]] = {name: ROW[name] for name in NAMES}


class FastPath:
    """Reads plain stretches of one source into one reading; after short ones it pauses, twice as long each time."""

    def __init__(self, source: Source, reading: Reading, kernel: kernels.Kernel) -> None:
        self._reading, self._kernel = reading, kernel
        self._data = np.frombuffer(source.data, dtype=np.uint8)
        self._starts, self._ends = source.starts, source.ends
        size = min(CHUNK, len(source))
        self._line, self._kind = np.empty(size, np.int32), np.empty(size, np.uint8)
        self._start, self._end = np.empty((size, 3)), np.empty((size, 3))
        self._start_known, self._end_known = np.empty((size, 3), np.bool_), np.empty((size, 3), np.bool_)
        self._feed = np.empty(size)
        self._pause = self._wait = 0

    def advance(self, at: int, last: int) -> int:
        """Read from line `at` (from 0) as far as lines are plain, at most to `last`; the number of lines read."""
        if self._wait > 0:
            self._wait -= 1
            return 0
        if not self._may():
            return 0
        lines = self._run(at, min(last, at + len(self._line)))
        self._pause = 0 if lines >= 8 else min(max(2 * self._pause, 1), _LONGEST_PAUSE)
        self._wait = self._pause
        return lines

    def _may(self) -> bool:
        """Whether everything that a plain line rests on is stated, or its assumption noted; and nothing else is on."""
        state, notes = self._reading.state, self._reading.notes.assumed
        stated = all(group in state.stated or code in notes for group, code in _ASSUMED.items())
        return stated and state.cycle is None and state.feed_mode == 94 and self._is_free()

    def _is_free(self) -> bool:
        reading = self._reading
        changed = reading.state.side or reading.state.transforms or reading.compensation is not None
        return not changed and reading.corners.is_idle

    def _run(self, at: int, last: int) -> int:
        state, control = self._reading.state, self._reading.control
        is_straight = state.motion in (0, 10) and "motion" in state.stated
        shift = [both[0] + both[1] for both in zip(state.shift, state.local_shift, strict=True)]
        settings = np.array(
            [
                state.unit_mm, state.absolute, *shift,
                control.decimal_rule is DecimalRule.INCREMENT, control.sequence_digits,
                control.line_length or LONGEST_BLOCK,
            ],
            dtype=np.float64,
        )  # fmt: skip
        values = np.array([*state.position, state.feed_mm_min, state.motion / 10 if is_straight else -1.0])
        known = np.array(state.known)
        lines, count = self._kernel(
            self._data, self._starts, self._ends, at, last, settings, values, known,
            self._line, self._kind, self._start, self._end, self._start_known, self._end_known, self._feed,
        )  # fmt: skip
        if count:
            self._take(count, values, known)
        return lines

    def _take(self, count: int, values: NDArray[np.float64], known: NDArray[np.bool_]) -> None:
        reading, state = self._reading, self._reading.state
        reading.rows.add_columns(self._rows(count))
        state.position, state.known = values[:3].tolist(), known.tolist()
        state.feed_mm_min = float(values[3])
        state.motion = state.straight = int(values[4]) * 10
        state.stated.add("motion")
        state.tool_change_up = False
        reading.last_comment = ""
        reading.feed_refused = reading.feed_refused and not bool((self._kind[:count] == 1).any())

    def _rows(self, count: int) -> Columns:
        """Columns of ROW for the rows that the kernel wrote."""
        state = self._reading.state
        columns: Columns = {
            "kind": self._kind, "line": self._line, "start": self._start, "end": self._end,
            "start_known": self._start_known, "end_known": self._end_known, "feed_mm_min": self._feed,
        }  # fmt: skip
        rows = {name: column[:count].copy() for name, column in columns.items()}
        constants = {
            "centre": math.nan, "plane": state.plane, "turn_deg": 0.0, "dwell_s": 0.0, "rpm": state.rpm,
            "spindle": state.spindle, "coolant": state.coolant, "tool": state.tool,
            "length_offset": state.length_offset, "radius_offset": state.radius_offset, "radius_side": state.side,
            "work_offset": state.work_offset, "cycle": 0,
        }  # fmt: skip
        for name, value in constants.items():
            rows[name] = np.full((count, *_SHAPES[name].shape), value, dtype=_SHAPES[name].base)
        return rows


def fast_path(source: Source, reading: Reading, *, wanted: bool | None) -> FastPath | None:
    """The fast path where it pays (wanted None), always (True) or never (False)."""
    least = COMPILED_FROM if kernels.compiled.cache_info().currsize else COMPILE_FROM
    if wanted or (wanted is None and len(source) >= least):
        return FastPath(source, reading, kernels.compiled())
    return None
