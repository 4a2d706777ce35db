"""Stock as it is cut away, for the viewer: the bytes SFS1 and SFT1, little-endian.

SFS1, the stock after some motions: "SFS1", u32 length of the header, the header as JSON padded with blanks to a
multiple of four, then, as it counts: i32 motion[frames], how many of the drawn motions (programs.drawing) each frame
stands after; u32 begins[frames + 1] into what changes in each frame: u32 cell[changes], f32 top[changes],
f32 low[changes], mm (low above top: nothing is left there). Then a row a program line: i32 line[lines],
f32 volume[lines] mm³, f32 axial[lines], f32 radial[lines] mm, f32 rate[lines] cm³/min, f32 chip[lines] mm,
f32 power[lines] kW, f32 bend[lines] mm, nan where it is not known; and f32 elapsed[motions] s, from the beginning of
the program to the end of each drawn motion. The first frame changes every cell. A cell is x · ny + y.

SFT1, every change between one frame and the next, so that the stock after any motion is exact: "SFT1", u32 changes,
then u32 motion[changes] (drawn motions up to the one that makes it, counted from 1), u32 cell[changes],
f32 value[changes] mm: the highest material, or, where the cell's top bit is set, the lowest.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.stock.columns import Columns
from shopflow.core.stock.holding import Solid
from shopflow.core.stock.lines import ByLine
from shopflow.core.stock.loads import LOAD_NAMES
from shopflow.core.stock.profile import bodies_of
from shopflow.core.stock.removal import Conditions
from shopflow.core.stock.replay import Changes, Replay
from shopflow.core.types import Motions, Tool
from shopflow.programs.drawing import rows_drawn

Floats = NDArray[np.float32]

MOST_CELLS_A_SIDE = 220
"""More says nothing on a screen (our choice)."""
MOST_FRAMES = 64
"""Between two of them a browser gets every change in a moment (our choice)."""
LEAST_STEP = 256
"""Motions between two frames, at the least: less is not worth a request (our choice)."""
IS_LOW = np.uint32(1 << 31)

_HEAD = struct.Struct("<4sI")


@dataclass(frozen=True)
class Frame:
    """motion: drawn motions it stands after. cell, top, low: what changed since the frame before."""

    motion: int
    cell: NDArray[np.uint32]
    top: Floats
    low: Floats


@dataclass(frozen=True)
class Shown:
    """What is drawn with the stock. deviates: whether there is a deviation from the model (programs.deviation_picture).
    holding: in the coordinates of the motions."""

    tools: Mapping[int, Tool]
    holding: tuple[Solid, ...]
    deviates: bool


@dataclass(frozen=True)
class Picture:
    """frames: the first is the stock as it came. stretches: SFT1 bytes, from each frame to the next."""

    first: tuple[float, float]
    pitch: float
    shape: tuple[int, int]
    frames: tuple[Frame, ...]
    stretches: tuple[bytes, ...]

    def to_bytes(
        self,
        by_line: ByLine,
        loads: Mapping[str, NDArray[np.float64]],
        elapsed_s: NDArray[np.float64],
        shown: Shown,
    ) -> bytes:
        """SFS1. loads: of the same lines (`loads_by_line`). elapsed_s: of the drawn motions."""
        begins = np.cumsum([0, *(len(frame.cell) for frame in self.frames)])
        header = {
            "origin": self.first, "pitch": self.pitch, "shape": self.shape, "frames": len(self.frames),
            "changes": int(begins[-1]), "lines": len(by_line.line), "motions": len(elapsed_s),
            "deviates": shown.deviates,
            "tools": {str(n): silhouette(tool) for n, tool in shown.tools.items()},
            "holding": [[solid.name, *solid.box[0], *solid.box[1]] for solid in shown.holding],
        }  # fmt: skip
        parts: list[tuple[str, NDArray[Any]]] = [
            ("<i4", np.array([frame.motion for frame in self.frames])), ("<u4", begins),
            ("<u4", np.concatenate([frame.cell for frame in self.frames])),
            ("<f4", np.concatenate([frame.top for frame in self.frames])),
            ("<f4", np.concatenate([frame.low for frame in self.frames])), ("<i4", by_line.line),
            ("<f4", by_line.volume_mm3), ("<f4", by_line.axial_mm), ("<f4", by_line.radial_mm),
            *(("<f4", loads[name]) for name in LOAD_NAMES), ("<f4", elapsed_s),
        ]  # fmt: skip
        return headed(b"SFS1", header) + b"".join(part.astype(kind).tobytes() for kind, part in parts)


def headed(letters: bytes, header: Mapping[str, Any]) -> bytes:
    """Letters, length of the header, the header as JSON padded to a multiple of four."""
    text = json.dumps(header).encode()
    text += b" " * (-len(text) % 4)
    return _HEAD.pack(letters, len(text)) + text


def picture_of(columns: Columns, motions: Motions, tools: Mapping[int, Tool], conditions: Conditions) -> Picture:
    """Of all motions over the stock of one setup."""
    replay = Replay(columns, tools, conditions, most_a_side=MOST_CELLS_A_SIDE)
    low, top = replay.heights
    drawn, start_low = rows_drawn(motions, conditions.work_offset), low
    frames, stretches = [Frame(0, np.arange(top.size, dtype=np.uint32), top, low)], list[bytes]()
    for begin, end in _between(motions, conditions.work_offset):
        changes = replay.run(motions, begin, end)
        if not len(changes.motion):
            continue
        stretches.append(stretch_bytes(changes, drawn, start_low))
        new_low, new_top = replay.heights
        cell = np.flatnonzero((new_low != low) | (new_top != top))
        low, top = new_low, new_top
        at = int(np.searchsorted(drawn, end))
        frames.append(Frame(at, cell.astype(np.uint32), top[cell], low[cell]))
    return Picture(replay.first, replay.pitch, replay.shape, tuple(frames), tuple(stretches))


def stretch_bytes(changes: Changes, drawn: NDArray[np.intp], start_low: Floats) -> bytes:
    """SFT1. drawn: rows of the drawn motions. start_low: lowest material of each cell in the stock as it came."""
    motion = np.searchsorted(drawn, changes.motion).astype(np.uint32) + np.uint32(1)
    lifted = np.flatnonzero(changes.low != start_low[changes.cell])
    at = np.concatenate((np.arange(len(motion)), lifted))
    order = np.argsort(at, kind="stable")
    cell = np.concatenate((changes.cell, changes.cell[lifted] | IS_LOW))[order]
    value = np.concatenate((changes.top, changes.low[lifted]))[order]
    head = _HEAD.pack(b"SFT1", len(cell))
    return (
        head + motion[at[order]].astype("<u4").tobytes() + cell.astype("<u4").tobytes() + value.astype("<f4").tobytes()
    )


def bounds_of(motions: Motions, offset: int) -> list[int]:
    """Where frames are made: at changes of tool and offset, and evenly between them."""
    changes = np.flatnonzero((np.diff(motions.tool) != 0) | (np.diff(motions.work_offset) != 0)) + 1
    mine = np.flatnonzero(motions.work_offset == offset)
    step = LEAST_STEP
    while len(mine) > step * MOST_FRAMES:
        step *= 2
    few = changes if len(changes) <= MOST_FRAMES else changes[:0]
    return sorted({*(int(row) for row in few), *(int(row) + 1 for row in mine[step - 1 :: step])})


def _between(motions: Motions, offset: int) -> Iterator[tuple[int, int]]:
    bounds = [0, *(bound for bound in bounds_of(motions, offset) if 0 < bound < len(motions)), len(motions)]
    return zip(bounds, bounds[1:], strict=False)


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
