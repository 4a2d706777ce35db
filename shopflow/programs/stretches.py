"""Running a program over stock in stretches that the cache keeps, so that a beginning runs only once."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from shopflow.core.errors import NotPossible
from shopflow.core.stock.checkpoints import Run, remove_in_stretches
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.removal import Conditions
from shopflow.core.types import Motions, Tool
from shopflow.records import cache

EVERY = 5_000
"""Motions in a stretch whose state is kept (our choice: a second of work)."""

Progress = Callable[[float, str], None]


class _Cache:
    """The cache as a store of stretches."""

    def load(self, key: str) -> bytes | None:
        return cache.read(_name(key))

    def save(self, key: str, data: bytes) -> None:
        cache.write(_name(key), data)


def run(
    motions: Motions, tools: Mapping[int, Tool], conditions: Conditions, columns: Columns, progress: Progress
) -> Run:
    """All motions over the stock of one setup."""
    if not len(motions):
        raise NotPossible("The program moves nothing.")
    return remove_in_stretches(
        columns, motions, tools, conditions, _Cache(), every=EVERY,
        begins=lambda row: progress(0.8 * row / len(motions), "Removing material"),
    )  # fmt: skip


def _name(key: str) -> str:
    return cache.key("stretch of a program", state=key)
