"""How many pieces a bar gives, and which bars of a rack to open for a number of equal pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

SAME_MM = 1e-6
MOST_STATES = 300_000
"""Bars times pieces up to which the best choice is searched for; beyond it the longest bars are opened first."""


@dataclass(frozen=True)
class Fit:
    """What a length gives. count: pieces. left_mm: what stays behind the last cut, 0 where the saw takes all of it."""

    count: int
    left_mm: float


def pieces_from(length_mm: float, piece_mm: float, *, kerf_mm: float, stub_mm: float, most: int | None = None) -> Fit:
    """Cut a length into equal pieces: the stub is sawn off first, then each piece is parted off with one kerf.

    The last piece needs no cut of its own where nothing or less than a kerf is left behind it. stub_mm: with its kerf.
    most: no more pieces than these are cut. Raises ValueError for a piece or a kerf that is no length.
    """
    if piece_mm <= 0 or kerf_mm < 0 or stub_mm < 0:
        raise ValueError("a piece is longer than 0, and kerf and stub are not negative")
    count = max(0, floor((length_mm - stub_mm + kerf_mm + SAME_MM) / (piece_mm + kerf_mm)))
    if most is not None:
        count = min(count, most)
    if count == 0:
        return Fit(0, max(length_mm, 0.0))
    return Fit(count, max(0.0, length_mm - stub_mm - count * (piece_mm + kerf_mm)))


@dataclass(frozen=True)
class Length:
    """A bar to choose from. key: whatever names it. capacity: pieces that it gives when all of it is used."""

    key: str
    length_mm: float
    capacity: int


def bars_to_open(pieces: int, bars: Sequence[Length]) -> list[int]:
    """Which bars to open for so many pieces, by index: the least total length, and among equals the fewest bars.

    Where all of them together are not enough, all that give anything. Short remnants are so used up before a new bar
    is opened.
    """
    useful = [index for index, bar in enumerate(bars) if bar.capacity > 0]
    if sum(bars[index].capacity for index in useful) <= pieces:
        return useful
    if pieces <= 0:
        return []
    if len(useful) * pieces > MOST_STATES:
        return _longest_first(pieces, bars, useful)
    return sorted(_least_length(pieces, bars, useful))


def _least_length(pieces: int, bars: Sequence[Length], useful: Sequence[int]) -> tuple[int, ...]:
    """For each number of pieces up to the wanted one, the shortest set of bars that gives as many or more."""
    best: dict[int, tuple[float, int, tuple[int, ...]]] = {0: (0.0, 0, ())}
    for index in useful:
        for given, (length, opened, chosen) in list(best.items()):
            reached = min(pieces, given + bars[index].capacity)
            candidate = (length + bars[index].length_mm, opened + 1, (*chosen, index))
            if given < pieces and (reached not in best or candidate < best[reached]):
                best[reached] = candidate
    return best[pieces][2]


def _longest_first(pieces: int, bars: Sequence[Length], useful: Sequence[int]) -> list[int]:
    chosen, given = [], 0
    for index in sorted(useful, key=lambda one: -bars[one].capacity):
        if given >= pieces:
            break
        chosen.append(index)
        given += bars[index].capacity
    return sorted(chosen)
