"""What the home page lists and what the search finds."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone

from shopflow.core.quality.heats import pattern_of
from shopflow.floor import queries as floor
from shopflow.floor.models import FloorCopy, Lot, Place
from shopflow.jobs.models import Job, Part, Stage
from shopflow.programs.models import ProgramRevision
from shopflow.records import ledger
from shopflow.shop import queries as shop
from shopflow.shop.models import Tool

MOST_FOUND = 20


@dataclass(frozen=True)
class HomeFilter:
    """What the home page is narrowed to; empty leaves nothing out."""

    customer: str = ""
    machine: str = ""
    person: str = ""
    late: bool = False


def open_jobs(chosen: HomeFilter) -> QuerySet[Job]:
    """Open jobs due soonest first, with what their strips need."""
    jobs = Job.objects.exclude(stage=Stage.CLOSED).select_related("revision__part__customer")
    if chosen.customer.isdigit():
        jobs = jobs.filter(revision__part__customer=int(chosen.customer))
    if chosen.machine.isdigit():
        jobs = jobs.filter(setups__machine=int(chosen.machine)).distinct()
    if chosen.person.isdigit():
        jobs = jobs.filter(Q(created_by=int(chosen.person)) | Q(lots__runs__started_by=int(chosen.person))).distinct()
    if chosen.late:
        jobs = jobs.filter(due_on__lt=timezone.localdate())
    return jobs.order_by("due_on", "number")


def job_ids_of(chains: set[str]) -> list[int]:
    """The jobs whose chains are named."""
    return sorted(int(chain.removeprefix("job:")) for chain in chains if chain.startswith("job:"))


@dataclass(frozen=True)
class Found:
    """What a search found, by kind."""

    jobs: list[Job]
    parts: list[Part]
    tools: list[Tool]
    programs: list[ProgramRevision]
    copies: list[FloorCopy]
    lots: list[Lot]

    @property
    def is_empty(self) -> bool:
        return not any((self.jobs, self.parts, self.tools, self.programs, self.copies, self.lots))


def search(words: str) -> Found:
    """Jobs, parts, tools, programs by name or hash, lots by heat number; at most MOST_FOUND of each."""
    words = words.strip()
    hash_start = words.lower() if len(words) >= 6 else "-"
    heat = pattern_of(words)
    jobs = Job.objects.filter(
        Q(number__icontains=words) | Q(order_number__icontains=words) | Q(heat_number__iregex=heat)
        | Q(revision__part__customer__name__icontains=words) | Q(bar_picks__bar__heat_number__iexact=words)
    ).distinct().select_related("revision__part__customer")  # fmt: skip
    parts = Part.objects.filter(Q(number__icontains=words) | Q(name__icontains=words)).select_related("customer")
    programs = ProgramRevision.objects.filter(Q(name__icontains=words) | Q(stored__sha256__startswith=hash_start))
    copies = FloorCopy.objects.filter(stored__sha256__startswith=hash_start).select_related("packet__job", "stored")
    lots = Lot.objects.filter(heat_number__iregex=heat).select_related("job")
    return Found(
        jobs=list(jobs[:MOST_FOUND]),
        parts=list(parts.prefetch_related("revisions__jobs")[:MOST_FOUND]),
        tools=shop.find_tools(words)[:MOST_FOUND],
        programs=list(programs.select_related("program__job", "stored")[:MOST_FOUND]),
        copies=list(copies[:MOST_FOUND]),
        lots=list(lots[:MOST_FOUND]),
    )


def changes_since(since: int) -> tuple[int, list[int]] | None:
    """The change counter and the jobs that changed; None when nothing did (one indexed read)."""
    counter = ledger.counter()
    if counter == since:
        return None
    return counter, job_ids_of(ledger.changed_chains_since(since))


def balance(job: Job) -> dict[str, int]:
    """Ordered, made, and where every piece went, for the section that ships and closes.

    made: pieces released and counted in since; each of them is at a step, held, outside, scrapped, lost or shipped.
    """
    tally = floor.tally(job)
    return {
        "ordered": job.quantity,
        "made": floor.made(job),
        "over": max(0, tally[Place.SHIPPED] - job.quantity),
        "short": max(0, job.quantity - tally[Place.SHIPPED]),
        **tally,
    }
