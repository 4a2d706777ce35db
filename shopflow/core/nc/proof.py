"""Proof, by reading both again, that a rewritten program moves as the one before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import NotPossible
from shopflow.core.nc.program import Program
from shopflow.core.types import Motions


def prove_same(
    before: Program,
    after: Program,
    *,
    origin: Sequence[int],
    changed: frozenset[int] = frozenset(),
    may_differ: Mapping[str, NDArray[np.bool_]] | None = None,
    renumbered: Mapping[str, Mapping[int, int]] | None = None,
    removed: frozenset[int] = frozenset(),
    stops_added: int = 0,
) -> None:
    """Raise NotPossible unless `after` moves exactly as `before`, motion for motion and column for column.

    origin: for each line of `after` the line it was in `before`, 0 for a new one (patch.Patched). changed: lines of
    `before` whose motions may differ, and which must still end where they ended. may_differ: column of Motions to the
    motions of `before`, (n,) bool, on which it may differ. renumbered: column to the new numbers of old ones, which
    must then hold throughout. removed: lines that are gone with their motions. stops_added: new program stops.
    """
    _no_new_line_moves(after, origin)
    lines_after = np.array((0, *origin), dtype=np.int32)[after.motions.line]
    keep_before = ~np.isin(before.motions.line, list(changed | removed))
    keep_after = ~np.isin(lines_after, list(changed))
    columns = {column.name: getattr(before.motions, column.name) for column in fields(Motions)}
    for name, numbers in (renumbered or {}).items():
        columns[name] = _renumbered(columns[name], numbers)
    for name, column in columns.items():
        new = lines_after if name == "line" else getattr(after.motions, name)
        free = (may_differ or {}).get(name, np.zeros(len(column), dtype=np.bool_))[keep_before]
        _same_column(name, column[keep_before], new[keep_after], free, before.motions.line[keep_before])
    _same_ends(before, after, lines_after, changed)
    tools = (renumbered or {}).get("tool", {})
    _same_lists(before, after, origin, stops_added, tools, removed)


def _no_new_line_moves(after: Program, origin: Sequence[int]) -> None:
    new = np.array((0, *origin), dtype=np.int32)[after.motions.line] == 0
    if new.any():
        line = int(after.motions.line[np.flatnonzero(new)[0]])
        raise NotPossible(
            f"A line that was put in moves the machine (line {line} of the new text): nothing was written."
        )


def _renumbered(column: NDArray[Any], numbers: Mapping[int, int]) -> NDArray[Any]:
    new = column.copy()
    for old, number in numbers.items():
        new[column == old] = number
    return new


def _same_column(
    name: str, old: NDArray[Any], new: NDArray[Any], free: NDArray[np.bool_], lines: NDArray[np.int32]
) -> None:
    if old.shape != new.shape:
        raise NotPossible(f"The new text has {len(new)} motions where the old has {len(old)}: nothing was written.")
    differs = ~((old == new) | ((old != old) & (new != new)))
    differs = (differs.any(axis=1) if differs.ndim > 1 else differs) & ~free
    if differs.any():
        line = int(lines[np.flatnonzero(differs)[0]])
        raise NotPossible(f"The {name} of a motion of line {line} would change: nothing was written.")


def _same_ends(before: Program, after: Program, lines_after: NDArray[np.int32], changed: frozenset[int]) -> None:
    """Whatever a changed line does, the tool must stand where it stood after it."""
    for line in changed:
        old = np.flatnonzero(before.motions.line == line)
        new = np.flatnonzero(lines_after == line)
        if (len(old) == 0) != (len(new) == 0):
            raise NotPossible(f"Line {line} would move where it did not, or no longer: nothing was written.")
        if len(old) and not np.array_equal(before.motions.end[old[-1]], after.motions.end[new[-1]]):
            raise NotPossible(f"Line {line} would end at another place: nothing was written.")


def _same_lists(
    before: Program,
    after: Program,
    origin: Sequence[int],
    stops_added: int,
    tools: Mapping[int, int],
    removed: frozenset[int],
) -> None:
    if (before.program_ends is None) != (after.program_ends is None):
        raise NotPossible("The new text would end otherwise than the old one: nothing was written.")
    unread_before = [(entry.line, entry.code) for entry in before.unread if entry.line not in removed]
    if unread_before != [(origin[entry.line - 1], entry.code) for entry in after.unread]:
        raise NotPossible("The new text would be read otherwise than the old one: nothing was written.")
    kept = [stop for stop in after.stops if origin[stop.line - 1]]
    expected = [stop for stop in before.stops if stop.line not in removed]
    if len(kept) != len(expected) or len(after.stops) - len(kept) != stops_added:
        raise NotPossible(
            f"The new text has {len(after.stops)} stops, not {len(before.stops)} and {stops_added} new ones."
        )
    used = tuple(dict.fromkeys(tools.get(tool, tool) for tool in before.tools))
    if used != after.tools or before.work_offsets != after.work_offsets:
        raise NotPossible("The new text would use other tools or work offsets: nothing was written.")
