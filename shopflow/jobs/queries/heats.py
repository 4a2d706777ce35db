"""Of which heat the pieces of a job are."""

from __future__ import annotations

from shopflow.core.quality.heats import HeatShare, read_heats, shared_out
from shopflow.jobs.models import Job
from shopflow.jobs.queries.stock import heats_of, picks_of


def heats_named(job: Job) -> list[HeatShare]:
    """Every heat of the job's material: of the bars that were picked where they differ, else as it was typed.

    "" stands for bars that have no heat number, beside others that have one.
    """
    picked = heats_of(picks_of(job))
    if len(picked) > 1:
        return [HeatShare(heat, pieces) for heat, pieces in picked.items()]
    return read_heats(job.heat_number)


def heat_shares(job: Job) -> list[HeatShare]:
    """Heats with the pieces that are made of each, adding up to the quantity; empty where nobody can say."""
    named = heats_named(job)
    if len(named) == 1:
        return [HeatShare(named[0].heat, job.quantity)]
    return shared_out(named, job.quantity)


def has_mixed_heats(job: Job) -> bool:
    """Whether there are several heats and nobody said how many pieces are of each."""
    return len(heats_named(job)) > 1 and not heat_shares(job)
