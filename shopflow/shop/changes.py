"""Telling the apps above that something a sign-off may depend on was changed.

shop and jobs lie below programs and may not import it; they announce, and programs listens (programs.apps).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from shopflow.people.models import User

Listener = Callable[[User, "Iterable[int] | None"], None]
"""Called with who changed something and the jobs concerned by id; None means any open job may be concerned."""

_listeners: list[Listener] = []


def listen(listener: Listener) -> None:
    """Register once, at start."""
    if listener not in _listeners:
        _listeners.append(listener)


def announce(*, by: User, jobs: Iterable[int] | None = None) -> None:
    """To be called inside the transaction of every action that changes tool, machine, rule, plan, model or material."""
    for listener in _listeners:
        listener(by, jobs)
