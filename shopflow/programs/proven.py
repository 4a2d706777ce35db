"""What an app above knows of programs that ran a lot without change.

floor lies above programs, which may not import it: floor says here who knows (floor.apps), and programs asks.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime

from shopflow.programs.models import SignOff
from shopflow.shop.models import Machine


@dataclass(frozen=True)
class Proven:
    """One lot that a revision ran through, every op of it, with no change at the control and no scrap of its own.

    ops: of its setups. sign_off: under which it ran; its assumptions name the tools, the machine and the house rules.
    """

    revision_id: int
    machine: Machine
    job: str
    lot: int
    ops: tuple[int, ...]
    pieces: int
    finished_at: datetime
    sign_off: SignOff


Source = Callable[[Collection[int]], list[Proven]]
_sources: list[Source] = []


def listen(source: Source) -> None:
    """Register once, at start, who can say it for revisions of these ids."""
    if source not in _sources:
        _sources.append(source)


def proven(revisions: Collection[int]) -> dict[int, Proven]:
    """The newest lot that proves each of these revisions (by id); those that nothing proves are left out."""
    found = [one for source in _sources for one in (source(revisions) if revisions else ())]
    return {one.revision_id: one for one in sorted(found, key=lambda one: one.finished_at)}
