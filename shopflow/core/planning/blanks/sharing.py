"""One bar for the pieces of several jobs: what is left behind them, and what each of them uses up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SAME_MM = 1e-6


@dataclass(frozen=True)
class Cuts:
    """Equal lengths sawn off one bar, one behind the other."""

    piece_mm: float
    count: int

    def used_mm(self, kerf_mm: float) -> float:
        """With one kerf for each."""
        return self.count * (self.piece_mm + kerf_mm)


@dataclass(frozen=True)
class Share:
    """What one of the cuts takes of a bar. used_mm: its pieces, with the stub before them or a scrap end behind them.
    left_mm: what is kept behind it, 0 where that is too short."""

    used_mm: float
    left_mm: float


def left_behind(length_mm: float, cuts: Sequence[Cuts], *, kerf_mm: float, stub_mm: float) -> float | None:
    """What is left of a bar behind all the cuts, mm; None where they do not come out of it.

    The last piece needs no cut of its own where nothing or less than a kerf is left behind it.
    """
    left = length_mm - stub_mm - sum(one.used_mm(kerf_mm) for one in cuts)
    last_kerf = kerf_mm if any(one.count for one in cuts) else 0.0
    return max(0.0, left) if left >= -last_kerf - SAME_MM else None


def shares(
    length_mm: float, cuts: Sequence[Cuts], *, kerf_mm: float, stub_mm: float, least_mm: float
) -> list[Share] | None:
    """What each takes, in the order in which they are sawn; all of it adds up to the bar. None where they do not fit.

    The first pays for the stub. The last pays for an end that is too short to keep; one before it never does, since
    what lies behind it is used. least_mm: the shortest end that is kept.
    """
    end = left_behind(length_mm, cuts, kerf_mm=kerf_mm, stub_mm=stub_mm)
    if end is None:
        return None
    found, start = [], 0.0
    for place, one in enumerate(cuts):
        is_last = place == len(cuts) - 1
        to = min(length_mm, (stub_mm if place == 0 else start) + one.used_mm(kerf_mm))
        left = length_mm - to
        keeps = not is_last or left >= least_mm
        found.append(Share((to if keeps else length_mm) - start, left if keeps else 0.0))
        start = to
    return found
