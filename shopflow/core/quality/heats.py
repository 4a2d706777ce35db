"""Heat numbers as people type them, and how many pieces are of each: "2211 × 8, 2212 × 4"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

_BETWEEN = re.compile(r"\s*[,;]\s*")
_COUNTED = re.compile(r"(?P<heat>.*\S)\s*(?:[×x*:]|\s[×x*:])\s*(?P<pieces>\d{1,6})$", re.IGNORECASE)


@dataclass(frozen=True)
class HeatShare:
    """pieces: None where nobody said how many are of this heat."""

    heat: str
    pieces: int | None = None

    def __str__(self) -> str:
        return self.heat if self.pieces is None else f"{self.heat} × {self.pieces}"


def read_heats(text: str) -> list[HeatShare]:
    """Each heat of a text, in order, once. One heat alone needs no count, and is taken as it stands."""
    parts = [part for part in _BETWEEN.split(text.strip()) if part]
    if len(parts) < 2:
        return [HeatShare(part) for part in parts]
    found: dict[str, HeatShare] = {}
    for part in parts:
        counted = _COUNTED.match(part)
        share = HeatShare(counted["heat"].strip(), int(counted["pieces"])) if counted else HeatShare(part)
        found.setdefault(share.heat, share)
    return list(found.values())


def shared_out(shares: Iterable[HeatShare], quantity: int) -> list[HeatShare]:
    """So many pieces over the heats in order: the first one whole, of the last what is still needed.

    Empty where it cannot be said: a heat without a count, or fewer pieces than are wanted.
    """
    left, found = quantity, []
    for share in shares:
        if share.pieces is None:
            return []
        taken = min(share.pieces, left)
        if taken:
            found.append(HeatShare(share.heat, taken))
        left -= taken
    return [] if left else found


def pattern_of(words: str) -> str:
    """A regular expression for a heat among others in one text, as databases take it: whole, not a part of another."""
    return rf"(^|[,;]\s*){re.escape(words)}(\s*[×x*:]\s*[0-9]+)?\s*($|[,;])"
