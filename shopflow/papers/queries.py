"""Which papers a job has, and whether one that somebody holds in the hand still says what the records say."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet

from shopflow.floor.models import Paper, Shipment
from shopflow.jobs.models import Job
from shopflow.papers.kinds import KINDS
from shopflow.records.canonical import digest

WITH_A_SHIPMENT = (Paper.Kind.PACKING_SLIP, Paper.Kind.CERTIFICATE)
"""What goes into the box with every shipment."""


def papers_of(job: Job) -> QuerySet[Paper]:
    """Newest first."""
    return job.papers.select_related("stored", "work", "shipment", "lot", "asked_by")


def newer(paper: Paper) -> Paper | None:
    """The newest paper that supersedes this one; None while it is the newest itself, and for labels."""
    if not KINDS[paper.kind].replaces:
        return None
    later = Paper.objects.filter(
        job=paper.job_id, kind=paper.kind, shipment=paper.shipment_id, lot=paper.lot_id, number__gt=paper.number
    )
    same = [other for other in later if other.chosen == paper.chosen]
    return max(same, key=lambda other: other.number, default=None)


def superseded(papers: Iterable[Paper]) -> set[int]:
    """Of these papers of one job, those with a newer one among them."""
    newest: dict[tuple[object, ...], int] = {}
    old: set[int] = set()
    for paper in sorted(papers, key=lambda paper: -paper.number):
        about = (paper.kind, paper.shipment_id, paper.lot_id, str(sorted(paper.chosen.items())))
        if KINDS[paper.kind].replaces and newest.setdefault(about, paper.pk) != paper.pk:
            old.add(paper.pk)
    return old


def still_says(paper: Paper) -> bool:
    """Whether the records of today say what the paper says."""
    return digest(KINDS[paper.kind].facts(paper)) == paper.content_hash


def shipments_without_papers(job: Job) -> list[Shipment]:
    """Shipments whose packing slip or certificate is not printed."""
    printed = set(
        job.papers.filter(kind__in=WITH_A_SHIPMENT, stored__isnull=False).values_list("shipment", "kind").distinct()
    )
    return [one for one in job.shipments.all() if any((one.pk, kind) not in printed for kind in WITH_A_SHIPMENT)]
