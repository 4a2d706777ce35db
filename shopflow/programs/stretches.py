"""Running a program over stock in stretches: pictures on the way, and what is kept so that a beginning runs only once.

A stretch that ran before from the same stock with the same motions, tools and conditions is taken from the cache, so
that a change late in a program runs its end alone.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from shopflow.core.errors import NotPossible
from shopflow.core.stock.checkpoints import packed, state_keys, unpacked
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.removal import Conditions, Removal, joined, remove
from shopflow.core.types import Motions, Tool
from shopflow.programs.stock_picture import Frames
from shopflow.records import cache

EVERY = 5_000
"""Motions in a stretch whose state is kept (our choice: a second of work)."""
MOST_FRAMES = 40

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Run:
    """removal: of all motions. states: (motion, material before it) at the beginning of each stretch, rising."""

    frames: Frames
    removal: Removal
    states: tuple[tuple[int, Columns], ...]

    def state_before(self, row: int) -> tuple[int, Columns]:
        """The last of the states that stand before a motion."""
        return next(state for state in reversed(self.states) if state[0] <= row)


def run(
    motions: Motions, tools: Mapping[int, Tool], conditions: Conditions, columns: Columns, progress: Progress
) -> Run:
    """All motions over the stock of one setup."""
    if not len(motions):
        raise NotPossible("The program moves nothing.")
    frames = Frames(columns)
    frames.add(columns, 0)
    keys = state_keys(columns, motions, tools, conditions, every=EVERY)
    bounds = bounds_of(motions, conditions.work_offset)
    parts, states = list[Removal](), list[tuple[int, Columns]]()
    for number, key in enumerate(keys):
        begin, end = number * EVERY, min((number + 1) * EVERY, len(motions))
        state = parts[-1].columns if parts else columns
        states.append((begin, state))
        progress(0.8 * begin / len(motions), "Removing material")
        is_whole = end < len(motions)
        part = _kept(key, frames, end - begin) if is_whole else None
        if part is None:
            seen = len(frames)
            part = _stretch(motions, tools, conditions, state, [begin, *_between(bounds, begin, end), end], frames)
            if is_whole:
                _keep(key, part, frames, seen)
        parts.append(part)
    return Run(frames, joined(parts), tuple(states))


def _stretch(
    motions: Motions,
    tools: Mapping[int, Tool],
    conditions: Conditions,
    state: Columns,
    bounds: list[int],
    frames: Frames,
) -> Removal:
    """Motions from the first bound to the last, with a picture after each bound that changed something."""
    parts = list[Removal]()
    for begin, end in zip(bounds, bounds[1:], strict=False):
        part = remove(parts[-1].columns if parts else state, motions, tools, conditions, begin=begin, end=end)
        parts.append(part)
        if part.volume_mm3.any():
            frames.add(part.columns, int(motions.line[end - 1]))
    return joined(parts)


def bounds_of(motions: Motions, offset: int) -> list[int]:
    """Where pictures are made: at changes of tool and offset, and evenly between them.

    The distance is a power of two, so that a program that grows a little at its end keeps the bounds of its beginning.
    """
    changes = np.flatnonzero((np.diff(motions.tool) != 0) | (np.diff(motions.work_offset) != 0)) + 1
    mine = np.flatnonzero(motions.work_offset == offset)
    step = 1
    while len(mine) > step * MOST_FRAMES:
        step *= 2
    few = changes if len(changes) <= MOST_FRAMES else changes[:0]
    return sorted({*(int(row) for row in few), *(int(row) + 1 for row in mine[step - 1 :: step])})


def _between(bounds: list[int], begin: int, end: int) -> list[int]:
    return [bound for bound in bounds if begin < bound < end]


def _keep(key: str, part: Removal, frames: Frames, seen: int) -> None:
    buffer = io.BytesIO()
    line, low, top = frames.heights_since(seen)
    np.savez(buffer, line=line, low=low, top=top)
    cache.write(_name(key, "state"), packed(part))
    cache.write(_name(key, "pictures"), buffer.getvalue())


def _kept(key: str, frames: Frames, motions: int) -> Removal | None:
    """The stretch as it was kept, its pictures added; None where the cache lost it or gave back something damaged."""
    state, pictures = cache.read(_name(key, "state")), cache.read(_name(key, "pictures"))
    part = unpacked(state) if state and pictures else None
    if part is None or pictures is None or len(part) != motions:
        return None
    with np.load(io.BytesIO(pictures), allow_pickle=False) as kept:
        frames.add_heights(kept["line"], kept["low"], kept["top"])
    return part


def _name(key: str, what: str) -> str:
    return cache.key("stretch of a program", state=key, what=what)
