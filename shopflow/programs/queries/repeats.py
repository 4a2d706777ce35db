"""Programs that earlier jobs of the same part revision proved, offered to a repeat order with what differs since."""

from __future__ import annotations

import json
from dataclasses import dataclass

from shopflow.jobs.models import Job, Setup
from shopflow.programs import proven as proofs
from shopflow.programs.assumptions import Change, bound, differences, machine_of, rows_for
from shopflow.programs.models import ProgramRevision
from shopflow.programs.proven import Proven
from shopflow.programs.queries.reviewed import Reviewed
from shopflow.programs.today import Today

MOST_LOOKED_AT = 60
"""Newest revisions of earlier jobs of the same part revision."""


@dataclass(frozen=True)
class Offer:
    """A proven revision that would fit setups of this job. changes: what differs from what it ran under."""

    revision: ProgramRevision
    proven: Proven
    setups: list[Setup]
    changes: list[Change]


def differs_since(seen: Reviewed, proof: Proven) -> list[Change]:
    """What is otherwise today than when the revision was proven: tools, machine, house rules, plan."""
    return differences(json.loads(proof.sign_off.assumptions), seen.inputs.assumptions)


def offers(job: Job) -> list[Offer]:
    """For setups of the job that have no program yet: the newest proven revision of each program of earlier jobs."""
    open_setups = {setup.number: setup for setup in job.setups.filter(manual_reason="", programs=None)}
    if not open_setups:
        return []
    earlier = ProgramRevision.objects.filter(program__job__revision=job.revision_id).exclude(program__job=job)
    rows = earlier.select_related("stored", "program__job__material").prefetch_related("program__setups")
    candidates = list(rows.order_by("-pk")[:MOST_LOOKED_AT])
    proven = proofs.on_each_machine([one.pk for one in candidates])
    found: dict[tuple[int, ...], Offer] = {}
    for revision in candidates:
        numbers = tuple(sorted(setup.number for setup in revision.program.setups.all()))
        if not numbers or numbers in found or not open_setups.keys() >= set(numbers):
            continue
        setups = [open_setups[number] for number in numbers]
        proof = proofs.on(proven.get(revision.pk), machine_of(setups))
        if proof:
            found[numbers] = Offer(revision, proof, setups, _changes(revision, job, setups, proof))
    return sorted(found.values(), key=lambda offer: offer.setups[0].number)


def _changes(revision: ProgramRevision, job: Job, setups: list[Setup], proof: Proven) -> list[Change]:
    """Against this job's own plan, as a review of the taken program will see it."""
    today = Today(job, [revision])
    rows = rows_for(today, setups, today.crib_of(revision))
    return differences(json.loads(proof.sign_off.assumptions), bound(rows))
