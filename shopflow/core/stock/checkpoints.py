"""Runs in stretches, with the state after each kept by the hash of everything it follows from.

A change late in a program does not run its beginning again: the longest stretch whose hash is known is taken up.
"""

from __future__ import annotations

import dataclasses
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from shopflow.core.stock import keeping
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.removal import Conditions, Removal, joined, remove
from shopflow.core.types import Motions, Tool

EVERY = 20_000
"""Motions in a stretch (our choice: a few seconds of work)."""

_HEAD = 8


class Store(Protocol):
    """Where states are kept: a cache, which may have forgotten them."""

    def load(self, key: str) -> bytes | None: ...

    def save(self, key: str, data: bytes) -> None: ...


@dataclass(frozen=True)
class Run:
    """removal: of all motions. states: (motion, material before it) at the beginning of each stretch, rising."""

    removal: Removal
    states: tuple[tuple[int, Columns], ...]

    def state_before(self, row: int) -> tuple[int, Columns]:
        """The last of the states that stand before a motion."""
        return next(state for state in reversed(self.states) if state[0] <= row)


def remove_in_stretches(
    columns: Columns,
    motions: Motions,
    tools: Mapping[int, Tool],
    conditions: Conditions,
    store: Store,
    *,
    every: int = EVERY,
    begins: Callable[[int], None] = lambda row: None,
) -> Run:
    """The same as `remove` over all motions, resumed from the store where it knows a beginning.

    begins: told the motion that each stretch begins with. The last stretch is not kept: nothing could resume from it.
    """
    parts, states = list[Removal](), list[tuple[int, Columns]]()
    for number, key in enumerate(state_keys(columns, motions, tools, conditions, every=every)):
        begin, end = number * every, min((number + 1) * every, len(motions))
        state = parts[-1].columns if parts else columns
        states.append((begin, state))
        begins(begin)
        is_resumed = end < len(motions)
        part = _kept(store, key, end - begin) if is_resumed else None
        if part is None:
            part = remove(state, motions, tools, conditions, begin=begin, end=end)
            if is_resumed:
                store.save(key, packed(part))
        parts.append(part)
    return Run(joined(parts) if parts else remove(columns, motions, tools, conditions), tuple(states))


def _kept(store: Store, key: str, motions: int) -> Removal | None:
    """The stretch as it was kept; None where the store lost it or gave back something damaged."""
    kept = store.load(key)
    part = unpacked(kept) if kept else None
    return part if part is not None and len(part) == motions else None


def state_keys(
    columns: Columns, motions: Motions, tools: Mapping[int, Tool], conditions: Conditions, *, every: int = EVERY
) -> list[str]:
    """The key of the state after each stretch: each follows from the one before and the stretch's motions.

    Only what changes the result is in it: not the number of threads, not what a tool may be used for.
    """
    key = keeping.key(keeping.to_bytes(columns), _text_of(tools), repr(_settled(conditions, columns.pitch)))
    keys = []
    for begin in range(0, len(motions), every):
        key = keeping.key(key, _motion_bytes(motions, begin, min(begin + every, len(motions))))
        keys.append(key)
    return keys


def _text_of(tools: Mapping[int, Tool]) -> str:
    return repr([(number, dataclasses.replace(tools[number], uses=frozenset())) for number in sorted(tools)])


def _settled(conditions: Conditions, pitch: float) -> tuple[Any, ...]:
    machine = conditions.machine
    rapids = (machine.rapid_mm_min, machine.control.straight_rapids)
    gaps = (conditions.rapid_clearance_mm, conditions.rapid_skin_mm, conditions.chord_for(pitch))
    return (*rapids, conditions.work_offset, conditions.workholding, *gaps)


def _motion_bytes(motions: Motions, begin: int, end: int) -> bytes:
    """Everything about a stretch of motions but the lines they stand in, which change when a comment is put in."""
    arrays = (getattr(motions, one.name) for one in dataclasses.fields(motions) if one.name != "line")
    return b"".join(np.ascontiguousarray(array[begin:end]).tobytes() for array in arrays)


def packed(part: Removal) -> bytes:
    """A stretch as bytes for a cache: the rows as an npz, before it its length, after it the columns."""
    rows: dict[str, Any] = {name: value for name, value in vars(part).items() if isinstance(value, np.ndarray)}
    buffer = io.BytesIO()
    np.savez(buffer, chord_mm=part.chord_mm, columns_seen=part.columns_seen, **rows)
    data = buffer.getvalue()
    return len(data).to_bytes(_HEAD, "little") + data + keeping.to_bytes(part.columns)


def unpacked(data: bytes) -> Removal | None:
    """The part in these bytes; None where the cache gave back something damaged, which is then computed again."""
    size = int.from_bytes(data[:_HEAD], "little")
    try:
        with np.load(io.BytesIO(data[_HEAD : _HEAD + size]), allow_pickle=False) as rows:
            values = {name: rows[name] for name in rows.files}
        columns = keeping.from_bytes(data[_HEAD + size :])
        chord, seen = float(values.pop("chord_mm")), int(values.pop("columns_seen"))
        return Removal(**values, columns=columns, chord_mm=chord, columns_seen=seen)
    except (ValueError, KeyError, TypeError, OSError, EOFError):
        return None
