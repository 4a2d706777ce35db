"""Proof, by reading both again, that a rewritten program moves as the one before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

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
    stops_added: int = 0,
) -> None:
    """Raise NotPossible unless `after` moves exactly as `before`, motion for motion and column for column.

    origin: for each line of `after` the line it was in `before`, 0 for a new one (patch.Patched). changed: lines of
    `before` whose motions may differ, and which must still end where they ended. stops_added: new program stops.
    """
    _no_new_line_moves(after, origin)
    lines_after = np.array((0, *origin), dtype=np.int32)[after.motions.line]
    keep_before = ~np.isin(before.motions.line, list(changed))
    keep_after = ~np.isin(lines_after, list(changed))
    _same_columns(before, after, keep_before, keep_after, lines_after)
    _same_ends(before, after, lines_after, changed)
    _same_lists(before, after, origin, stops_added)


def _no_new_line_moves(after: Program, origin: Sequence[int]) -> None:
    new = np.array((0, *origin), dtype=np.int32)[after.motions.line] == 0
    if new.any():
        line = int(after.motions.line[np.flatnonzero(new)[0]])
        raise NotPossible(
            f"A line that was put in moves the machine (line {line} of the new text): nothing was written."
        )


def _same_columns(
    before: Program,
    after: Program,
    keep_before: NDArray[np.bool_],
    keep_after: NDArray[np.bool_],
    lines_after: NDArray[np.int32],
) -> None:
    for column in fields(Motions):
        old = getattr(before.motions, column.name)[keep_before]
        new = lines_after if column.name == "line" else getattr(after.motions, column.name)
        new = new[keep_after]
        if old.shape != new.shape:
            raise NotPossible(f"The new text has {len(new)} motions where the old has {len(old)}: nothing was written.")
        differs = ~((old == new) | ((old != old) & (new != new)))
        if differs.any():
            row = int(np.argwhere(differs)[0][0])
            line = int(before.motions.line[keep_before][row])
            raise NotPossible(f"The {column.name} of a motion of line {line} would change: nothing was written.")


def _same_ends(before: Program, after: Program, lines_after: NDArray[np.int32], changed: frozenset[int]) -> None:
    """Whatever a changed line does, the tool must stand where it stood after it."""
    for line in changed:
        old = np.flatnonzero(before.motions.line == line)
        new = np.flatnonzero(lines_after == line)
        if (len(old) == 0) != (len(new) == 0):
            raise NotPossible(f"Line {line} would move where it did not, or no longer: nothing was written.")
        if len(old) and not np.array_equal(before.motions.end[old[-1]], after.motions.end[new[-1]]):
            raise NotPossible(f"Line {line} would end at another place: nothing was written.")


def _same_lists(before: Program, after: Program, origin: Sequence[int], stops_added: int) -> None:
    if (before.program_ends is None) != (after.program_ends is None):
        raise NotPossible("The new text would end otherwise than the old one: nothing was written.")
    if [(entry.text.upper(), entry.code) for entry in before.unread] != [
        (entry.text.upper(), entry.code) for entry in after.unread
    ]:
        raise NotPossible("The new text would be read otherwise than the old one: nothing was written.")
    kept = [stop for stop in after.stops if origin[stop.line - 1]]
    if len(kept) != len(before.stops) or len(after.stops) - len(kept) != stops_added:
        raise NotPossible(
            f"The new text has {len(after.stops)} stops, not {len(before.stops)} and {stops_added} new ones."
        )
    if before.tools != after.tools or before.work_offsets != after.work_offsets:
        raise NotPossible("The new text would use other tools or work offsets: nothing was written.")
