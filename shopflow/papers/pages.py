"""The papers of a job as its page shows them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from shopflow.floor.models import Lot, Paper
from shopflow.jobs.models import Job
from shopflow.papers import queries
from shopflow.papers.forms import AskForm, form_for
from shopflow.papers.kinds import KINDS
from shopflow.people.access import may
from shopflow.people.models import User

OF_A_LOT = (Paper.Kind.INSPECTION, Paper.Kind.FIRST_ARTICLE, Paper.Kind.LABELS)


@dataclass(frozen=True)
class Shown:
    """One paper in the list: the row, whether a newer one supersedes it, and the form that prints it again."""

    paper: Paper
    is_superseded: bool
    may_repeat: bool

    @property
    def work_url(self) -> str:
        return reverse("papers:paper_work", args=[self.paper.pk])


@dataclass(frozen=True)
class Offer:
    """A kind of paper that a person may ask for here, about one of these lots."""

    kind: str
    name: str
    form: AskForm
    lots: list[Lot]


def papers_context(job: Job, user: User) -> dict[str, Any]:
    """The list of papers, and what may be asked for."""
    papers = list(queries.papers_of(job))
    old = queries.superseded(papers)
    lots = list(job.lots.order_by("number"))
    return {
        "papers": [Shown(paper, paper.pk in old, may(user, KINDS[paper.kind].act)) for paper in papers],
        "paper_offers": offers(job, user, lots),
    }


def offers(job: Job, user: User, lots: list[Lot]) -> list[Offer]:
    """Papers about lots; those about shipments are printed with the shipment."""
    if not lots:
        return []
    return [
        Offer(kind.value, str(kind.label), form_for(kind, job, auto_id=f"{kind.value}_%s"), lots)
        for kind in OF_A_LOT
        if may(user, KINDS[kind].act)
    ]
