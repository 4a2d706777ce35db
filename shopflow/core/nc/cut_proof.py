"""Proof, by reading it, that a part of a program moves by itself as the whole does there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import NotPossible
from shopflow.core.nc.program import Program
from shopflow.core.types import MotionKind, Motions

_PLACES = ("line", "start", "end", "start_known")
"""Columns that are compared in their own way."""


def prove_piece(
    whole: Program, alone: Program, *, origin: Sequence[int], rows: tuple[int, int], stop_gone: int = 0
) -> None:
    """Raise NotPossible unless `alone` makes the motions `rows` of `whole`, column for column, and stops where it does.

    origin: for each line of `alone` the one of `whole`, 0 for a new one. stop_gone: line of a stop that became the end.
    Only where the tool stands before the part has stated an axis may be unknown, and nothing may cut from there.
    """
    _nothing_else_unread(whole, alone, origin)
    inside = slice(*rows)
    lines = np.array((0, *origin), dtype=np.int32)[alone.motions.line]
    if not np.array_equal(lines, whole.motions.line[inside]):
        raise NotPossible(f"{_part(whole, rows)} would run other lines by itself than it does in the program.")
    free = _without_meaning(whole.motions, inside)
    for column in fields(Motions):
        if column.name not in _PLACES:
            one, other = getattr(whole.motions, column.name)[inside], getattr(alone.motions, column.name)
            differs = _differ(one, other)
            _refuse_difference(
                whole, rows, column.name, differs & ~free[column.name] if column.name in free else differs
            )
    _same_places(whole, alone, rows)
    expected = [
        stop.line for stop in whole.stops if rows[0] <= stop.after_motion + 1 <= rows[1] and stop.line in origin
    ]
    if [origin[stop.line - 1] for stop in alone.stops] != [line for line in expected if line != stop_gone]:
        raise NotPossible(f"{_part(whole, rows)} would not stop where it does in the program.")


def _without_meaning(whole: Motions, inside: slice) -> dict[str, NDArray[np.bool_]]:
    """Motions on which a column says nothing: H of the tool before in a rapid that leaves Z, or to a machine place."""
    rapid = whole.kind[inside] == MotionKind.RAPID
    level = whole.start[inside, 2] == whole.end[inside, 2]
    return {
        "length_offset": rapid & (level | (whole.work_offset[inside] == 0)),
        "radius_offset": whole.radius_side[inside] == 0,
    }


def _differ(one: NDArray[np.generic], other: NDArray[np.generic]) -> NDArray[np.bool_]:
    differs: NDArray[np.bool_] = ~((one == other) | ((one != one) & (other != other)))
    return differs


def _refuse_difference(whole: Program, rows: tuple[int, int], name: str, differs: NDArray[np.bool_]) -> None:
    found = np.flatnonzero(differs.any(axis=1) if differs.ndim > 1 else differs)
    if len(found):
        line = int(whole.motions.line[rows[0] + int(found[0])])
        what = _WORDS.get(name, name.replace("_", " "))
        raise NotPossible(
            f"{_part(whole, rows)} depends on something before it that cannot be given again at its head: by itself,"
            f" the {what} of line {line} would be another."
        )


_WORDS = {"feed_mm_min": "feed", "turn_deg": "turn", "dwell_s": "dwell", "rpm": "spindle speed", "end": "place"}


def _same_places(whole: Program, alone: Program, rows: tuple[int, int]) -> None:
    """Where motions start and end, on each axis from the first time that the part states it."""
    inside = slice(*rows)
    was, now = whole.motions, alone.motions
    unsure_start = ~now.start_known & was.start_known[inside]
    unsure_end = ~alone.end_known & whole.end_known[inside]
    _refuse_difference(whole, rows, "end", _differ(was.end[inside], now.end) & alone.end_known)
    _refuse_difference(whole, rows, "start", _differ(was.start[inside], now.start) & now.start_known)
    cuts = now.feeds
    goes = (was.end[inside] != was.start[inside]) & (was.work_offset[inside] != 0)[:, None]
    blind = np.flatnonzero((cuts & unsure_start.any(axis=1)) | (unsure_end & goes).any(axis=1))
    if len(blind):
        line = int(was.line[rows[0] + int(blind[0])])
        raise NotPossible(
            f"Line {line} goes on from where the part before it left the tool. Begin the part with rapids that state"
            " X, Y and Z, or cut elsewhere."
        )


def _nothing_else_unread(whole: Program, alone: Program, origin: Sequence[int]) -> None:
    known = {(entry.line, entry.code) for entry in whole.unread}
    for entry in alone.unread:
        line = origin[entry.line - 1] if entry.line else 0
        if (line, entry.code) not in known:
            where = f"Line {line}" if line else "The head of the part"
            raise NotPossible(f"{where} cannot be read without what stands before the cut: {entry.why}.")


def _part(whole: Program, rows: tuple[int, int]) -> str:
    return f"The part whose first move is line {int(whole.motions.line[rows[0]])}"
