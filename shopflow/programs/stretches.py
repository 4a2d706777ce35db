"""Running a program over stock in stretches, each kept so that a beginning runs only once.

A stretch that ran before from the same stock with the same motions, tools and conditions is taken from the cache, so
that a change late in a program runs its end alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from shopflow.core.errors import NotPossible
from shopflow.core.stock.checkpoints import packed, state_keys, unpacked
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.removal import Conditions, Removal, joined, remove
from shopflow.core.types import Motions, Tool
from shopflow.records import cache

EVERY = 5_000
"""Motions in a stretch whose state is kept (our choice: a second of work)."""

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Run:
    """removal: of all motions. states: (motion, material before it) at the beginning of each stretch, rising."""

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
    keys = state_keys(columns, motions, tools, conditions, every=EVERY)
    parts, states = list[Removal](), list[tuple[int, Columns]]()
    for number, key in enumerate(keys):
        begin, end = number * EVERY, min((number + 1) * EVERY, len(motions))
        state = parts[-1].columns if parts else columns
        states.append((begin, state))
        progress(0.8 * begin / len(motions), "Removing material")
        is_whole = end < len(motions)
        part = _kept(key, end - begin) if is_whole else None
        if part is None:
            part = remove(state, motions, tools, conditions, begin=begin, end=end)
            if is_whole:
                cache.write(_name(key), packed(part))
        parts.append(part)
    return Run(joined(parts), tuple(states))


def _kept(key: str, motions: int) -> Removal | None:
    """The stretch as it was kept; None where the cache lost it or gave back something damaged."""
    state = cache.read(_name(key))
    part = unpacked(state) if state else None
    return part if part is not None and len(part) == motions else None


def _name(key: str) -> str:
    return cache.key("stretch of a program", state=key)
