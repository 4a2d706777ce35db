"""Stock as it is cut away, for the viewer: the bytes SFS1, little-endian.

"SFS1", u32 length of the header, the header as JSON padded with blanks to a multiple of four, then, as it counts:
f32 deviation[cells] where `deviates` (stock over the model's top in height, mm; NaN where there is none of either);
i32 line[frames], the line that each frame stands after; u32 begins[frames + 1] into what changes in each frame:
u32 cell[changes], f32 top[changes], f32 low[changes], mm (low above top: nothing is left there).
Then a row a program line: i32 line[lines], f32 volume[lines] mm³, f32 axial[lines], f32 radial[lines] mm.
The first frame changes every cell. A cell is x · ny + y.
"""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.columns import Columns
from shopflow.core.stock.lines import ByLine
from shopflow.core.stock.profile import bodies_of
from shopflow.core.types import Tool

Floats = NDArray[np.float32]

MOST_CELLS_A_SIDE = 220
"""More says nothing on a screen (our choice)."""

_HEAD = struct.Struct("<4sI")


class Frames:
    """Collects states of one setup; each is kept as what changed since the one before."""

    def __init__(self, columns: Columns) -> None:
        grid = columns.grid
        self._step = max(1, math.ceil(max(grid.shape[:2]) / MOST_CELLS_A_SIDE))
        x, y = (grid.middles(axis)[:: self._step] for axis in (0, 1))
        self._header: dict[str, Any] = {
            "origin": [float(x[0]), float(y[0])], "pitch": grid.pitch * self._step, "shape": [len(x), len(y)],
        }  # fmt: skip
        self._cell_count = len(x) * len(y)
        self._lines: list[int] = []
        self._cells: list[NDArray[np.uint32]] = []
        self._tops: list[Floats] = []
        self._lows: list[Floats] = []
        self._before: tuple[Floats, Floats] | None = None

    def add(self, columns: Columns, line: int) -> None:
        """The state after a line of the program; line 0 is the stock as it came."""
        self._add(*self.heights(columns), line)

    def __len__(self) -> int:
        return len(self._lines)

    def heights_since(self, first: int) -> tuple[NDArray[np.int64], Floats, Floats]:
        """States from a number on, whole: lines (frames,), lowest and highest material (frames, cells)."""
        low, top = np.ones(self._cell_count, np.float32), np.zeros(self._cell_count, np.float32)
        lows, tops = list[Floats](), list[Floats]()
        for number, cells in enumerate(self._cells):
            low[cells], top[cells] = self._lows[number], self._tops[number]
            if number >= first:
                lows.append(low.copy())
                tops.append(top.copy())
        shape = (len(lows), self._cell_count)
        lines = np.array(self._lines[first:], np.int64)
        return lines, np.array(lows, np.float32).reshape(shape), np.array(tops, np.float32).reshape(shape)

    def add_heights(self, lines: NDArray[np.int64], lows: Floats, tops: Floats) -> None:
        """States that `heights_since` gave."""
        for line, low, top in zip(lines.tolist(), lows, tops, strict=True):
            self._add(low, top, line)

    def _add(self, low: Floats, top: Floats, line: int) -> None:
        if self._before is None:
            changed = np.arange(top.size)
        else:
            changed = np.flatnonzero((low != self._before[0]) | (top != self._before[1]))
        self._before = low, top
        self._lines.append(line)
        self._cells.append(changed.astype(np.uint32))
        self._tops.append(top[changed])
        self._lows.append(low[changed])

    def heights(self, columns: Columns) -> tuple[Floats, Floats]:
        """(cells,) lowest and highest material in each cell drawn; 1 and 0 where there is none."""
        low, top = columns.along(2).extremes()
        low, top = low[:: self._step, :: self._step].reshape(-1), top[:: self._step, :: self._step].reshape(-1)
        gone = ~np.isfinite(low)
        return np.where(gone, np.float32(1), low), np.where(gone, np.float32(0), top)

    def deviation(self, columns: Columns, model: Columns) -> Floats:
        """(cells,) how far the stock's top lies over the model's, mm."""
        (low, top), (model_low, model_top) = self.heights(columns), self.heights(model)
        known = (low <= top) & (model_low <= model_top)
        return np.where(known, top - model_top, np.float32(np.nan)).astype(np.float32)

    def to_bytes(self, by_line: ByLine, tools: Mapping[int, Tool], deviation: Floats | None) -> bytes:
        begins = np.cumsum([0, *(len(cells) for cells in self._cells)])
        header = self._header | {
            "frames": len(self._lines), "changes": int(begins[-1]), "lines": len(by_line.line),
            "deviates": deviation is not None, "tools": {str(n): silhouette(tool) for n, tool in tools.items()},
        }  # fmt: skip
        text = json.dumps(header).encode()
        text += b" " * (-len(text) % 4)
        parts: list[tuple[str, NDArray[Any]]] = [] if deviation is None else [("<f4", deviation)]
        parts += [
            ("<i4", np.array(self._lines)), ("<u4", begins), ("<u4", np.concatenate(self._cells)),
            ("<f4", np.concatenate(self._tops)), ("<f4", np.concatenate(self._lows)), ("<i4", by_line.line),
            ("<f4", by_line.volume_mm3), ("<f4", by_line.axial_mm), ("<f4", by_line.radial_mm),
        ]  # fmt: skip
        return _HEAD.pack(b"SFS1", len(text)) + text + b"".join(part.astype(kind).tobytes() for kind, part in parts)


def silhouette(tool: Tool) -> list[list[float]]:
    """Bodies of the tool as it is drawn: bottom, flat radius, radius, height of the lower end, top, part (0 cuts)."""
    bodies = bodies_of(tool)
    rows = []
    for place, body in enumerate(bodies):
        above = bodies[place + 1].bottom if place + 1 < len(bodies) else body.bottom + 30.0
        rise = body.curve if body.end else body.curve * (body.radius - body.flat)
        top = min(body.top, above)
        rows.append([body.bottom, body.flat, body.radius, rise, max(top, body.bottom + rise), float(body.part)])
    return rows
