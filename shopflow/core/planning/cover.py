"""The smallest choice that covers everything, found exactly."""

from __future__ import annotations

from collections.abc import Collection, Sequence

MOST_EXACT = 18
"""Choices up to which the smallest set is searched for; beyond it the one that covers most is taken each time."""


def smallest_cover(wanted: Collection[frozenset[int]], choices: int) -> tuple[int, ...]:
    """The fewest of the choices 0 … choices − 1 such that each wanted set holds one of them; the earliest among equals.

    Raises ValueError for an empty wanted set: nothing covers it.
    """
    if any(not one for one in wanted):
        raise ValueError("nothing covers an empty set of choices")
    # A set that contains another one is covered with it.
    needed = [one for one in set(wanted) if not any(other < one for other in wanted)]
    if choices > MOST_EXACT:
        return _greedy(needed, choices)
    for size in range(len(needed) + 1):
        found = _of_size(size, needed, choices, ())
        if found is not None:
            return found
    raise AssertionError("as many choices as sets cover all sets")


def _of_size(size: int, left: Sequence[frozenset[int]], choices: int, taken: tuple[int, ...]) -> tuple[int, ...] | None:
    """The earliest set of this size in the order of its numbers, branching on what must be covered."""
    if not left:
        return taken
    if not size:
        return None
    start = taken[-1] + 1 if taken else 0
    for one in range(start, choices):
        found = _of_size(size - 1, [need for need in left if one not in need], choices, (*taken, one))
        if found is not None:
            return found
    return None


def _greedy(left: Sequence[frozenset[int]], choices: int) -> tuple[int, ...]:
    taken: list[int] = []
    while left:
        best = max(range(choices), key=lambda one: (sum(one in need for need in left), -one))
        taken.append(best)
        left = [need for need in left if best not in need]
    return tuple(sorted(taken))
