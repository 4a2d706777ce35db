"""What was learned at the machines and belongs in the plan of a job.

programs keeps it and lies above jobs; it says here how to ask (programs.apps), and the plan asks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from shopflow.jobs.models import Job


@dataclass(frozen=True)
class Learned:
    """One lesson in words. about: what it is about, such as "T5 drill 6.6"; job: number of the job it comes from."""

    text: str
    about: str
    who: str
    at: datetime
    job: str


Source = Callable[[Job], list[Learned]]
_sources: list[Source] = []


def listen(source: Source) -> None:
    """Register once, at start."""
    if source not in _sources:
        _sources.append(source)


def learned(job: Job) -> list[Learned]:
    """About the part, the material and the tools of the plan, newest first."""
    return sorted((one for source in _sources for one in source(job)), key=lambda one: one.at, reverse=True)
