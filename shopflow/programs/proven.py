"""What an app above knows of programs that ran a lot without change.

floor lies above programs, which may not import it: floor says here who knows (floor.apps), and programs asks.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

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

    @cached_property
    def tools(self) -> tuple[int, ...]:
        """Numbers of the tools that it ran with, as the sign-off binds them."""
        return tuple(sorted(int(number) for number in json.loads(self.sign_off.assumptions).get("tools", {})))


Source = Callable[[Collection[int]], list[Proven]]
_sources: list[Source] = []


def listen(source: Source) -> None:
    """Register once, at start, who can say it for revisions of these ids."""
    if source not in _sources:
        _sources.append(source)


def proven(revisions: Collection[int]) -> dict[int, Proven]:
    """The newest lot that proves each of these revisions (by id); those that nothing proves are left out."""
    return {pk: found[0] for pk, found in on_each_machine(revisions).items()}


def on_each_machine(revisions: Collection[int]) -> dict[int, list[Proven]]:
    """Of each of these revisions the newest lot on every machine that proved it, the newest of all first."""
    found = [one for source in _sources for one in (source(revisions) if revisions else ())]
    kept: dict[int, dict[int, Proven]] = {}
    for one in sorted(found, key=lambda one: one.finished_at, reverse=True):
        kept.setdefault(one.revision_id, {}).setdefault(one.machine.pk, one)
    return {pk: list(by_machine.values()) for pk, by_machine in kept.items()}


def on(found: list[Proven] | None, machine: Machine | None) -> Proven | None:
    """Of the lots that prove a revision the one on this machine, else the newest; None where there is none."""
    rows = found or []
    return next((one for one in rows if machine and one.machine.pk == machine.pk), rows[0] if rows else None)
