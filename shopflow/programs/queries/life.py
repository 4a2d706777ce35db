"""What a lot asks of its tools today: how long each lasts, by what the newest reviews reckoned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from shopflow.core.review.life import LifeUnit, Use, lasts
from shopflow.jobs.models import Job, Setup
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries.reviewed import Among, Reviewed
from shopflow.programs.today import Today
from shopflow.shop.models import Edge, Tool


@dataclass(frozen=True)
class Short:
    """A tool that does not last the lot. after: the piece after which it runs out, 0 inside the first one."""

    tool: Tool
    after: int
    pieces: int

    def __str__(self) -> str:
        if not self.after:
            return _("runs out inside the first piece: have a sharp one ready")
        return _("runs out after piece %(n)d of %(pieces)d: have a sharp one ready") % {
            "n": self.after, "pieces": self.pieces,
        }  # fmt: skip


def uses_a_piece(revision: ProgramRevision, setup: Setup | None = None) -> dict[int, Use]:
    """What one piece asks of each tool, by its number: in one setup, or in all of them. Empty before a review."""
    return uses_of(Reviewed(revision), setup)


def uses_of(seen: Reviewed, setup: Setup | None = None) -> dict[int, Use]:
    """The same of a revision that was gathered already."""
    is_alone = setup is not None and len(seen.today.setups_of(seen.revision.program_id)) == 1
    uses: dict[int, Use] = {}
    for section in (seen.reading or {}).get("sections", ()):
        if setup is None or is_alone or section["setup"] == setup.number:
            known = uses.get(section["tool"], Use())
            uses[section["tool"]] = Use(known.minutes + _minutes(section), known.holes + section.get("holes", 0))
    return {number: use for number, use in uses.items() if number}


def _minutes(section: dict[str, Any]) -> float:
    """Of a review from before minutes at feed were kept, all of its time: a little more."""
    return float(section.get("feeding_min", section["seconds"] / 60.0))


def tools_short(job: Job) -> list[Short]:
    """Tools that run out before all pieces that are ordered are cut, over all programs of the job."""
    total: dict[int, Use] = {}
    for seen in Among.newest_of(job).by_program.values():
        for number, use in uses_of(seen).items():
            known = total.get(number, Use())
            total[number] = Use(known.minutes + use.minutes, known.holes + use.holes)
    return short_of(total, job.quantity)


def short_of(uses: dict[int, Use], pieces: int) -> list[Short]:
    """Tools that run out before so many pieces are cut. uses: what one piece asks of each, by number."""
    found = []
    for tool in Tool.objects.filter(number__in=uses, life__isnull=False).exclude(edge=Edge.OUT):
        left = tool.life_left
        after = None if left is None else lasts(uses[tool.number].of(LifeUnit(tool.life_unit)), float(left), pieces)
        if after is not None:
            found.append(Short(tool, after, pieces))
    return found


def tools_used_up(job: Job) -> QuerySet[Tool]:
    """Tools of the plan or of a program that somebody put down as used up."""
    called = {number for revision in Today(job).newest.values() for number in revision.called}
    return Tool.objects.filter(
        Q(pk__in=job.setups.values("setup_tools__tool")) | Q(number__in=called), edge=Edge.OUT
    )  # fmt: skip
