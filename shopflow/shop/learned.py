"""What was learned at the machines about a row of the shop's tables: a tool, a material.

programs keeps it and lies above shop; it says here how to ask (programs.apps), and the page of a row asks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Model


@dataclass(frozen=True)
class Told:
    text: str
    who: str
    at: datetime


Source = Callable[[Model], list[Told]]
_sources: list[Source] = []


def listen(source: Source) -> None:
    """Register once, at start."""
    if source not in _sources:
        _sources.append(source)


def learned_about(row: Model) -> list[Told]:
    """Newest first; nothing for rows that nobody keeps lessons about."""
    return [one for source in _sources for one in source(row)]
