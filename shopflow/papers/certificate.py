"""The certificate of conformance of one shipment."""

from __future__ import annotations

from typing import Any

from shopflow.floor.models import Lot, Paper
from shopflow.inspection import queries as inspection
from shopflow.inspection.models import Nonconformance
from shopflow.papers.samples import by_sample
from shopflow.papers.shipments import shipment_facts


def facts(paper: Paper) -> dict[str, Any]:
    """Everything it states, as plain values; raises ValueError for a paper that is about no shipment."""
    if paper.shipment is None:
        raise ValueError(f"{paper} is about no shipment")
    lot = paper.shipment.lot
    samples = samples_of(lot)
    return {
        **shipment_facts(paper.shipment),
        **({"samples": samples} if samples else {}),
        "exceptions": [_exception(found) for found in inspection.told_to_the_customer(lot)],
        "person": paper.asked_by.get_full_name() or paper.asked_by.get_username(),
    }


def samples_of(lot: Lot) -> list[dict[str, Any]]:
    """What was accepted by sample in the lot, and by which sampling plan."""
    rows = list(lot.job.characteristics.select_related("step"))
    sampled = inspection.sampled_of(lot, rows)
    return by_sample((row, sampled[row.pk]) for row in rows)


def _exception(found: Nonconformance) -> dict[str, Any]:
    """A nonconformance as the customer knows it."""
    decided = found.dispositions.all()[0]  # the newest, prefetched
    return {
        "piece": found.piece,
        "balloon": found.characteristic.number if found.characteristic else None,
        "text": found.text,
        "verdict": decided.verdict,
        "reason": decided.reason,
        "told": decided.customer_told,
    }
