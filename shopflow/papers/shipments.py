"""What a certificate and a packing slip say about a shipment: pieces, lot, heat, and what went before."""

from __future__ import annotations

from typing import Any

from django.db.models import Sum
from django.utils import timezone

from shopflow.floor.models import Paper, Shipment
from shopflow.papers.common import job_facts


def shipment_facts(shipment: Shipment) -> dict[str, Any]:
    """Facts of one shipment, which later shipments do not change."""
    job, lot = shipment.job, shipment.lot
    earlier = job.shipments.filter(number__lt=shipment.number).aggregate(sum=Sum("quantity"))["sum"] or 0
    return {
        **job_facts(job),
        "shipment": shipment.number,
        "shipped_on": timezone.localdate(shipment.shipped_at),
        "quantity": shipment.quantity,
        "shipped_before": earlier,
        "to_follow": max(0, job.quantity - earlier - shipment.quantity),
        "lot": lot.number,
        "heat": lot.heat_number,
        "note": shipment.note,
    }


def packing_slip(paper: Paper) -> dict[str, Any]:
    """Everything that a packing slip states; raises ValueError for a paper that is about no shipment."""
    if paper.shipment is None:
        raise ValueError(f"{paper} is about no shipment")
    shipped_by = paper.shipment.shipped_by
    return {
        **shipment_facts(paper.shipment),
        "packed_by": shipped_by.get_full_name() or shipped_by.get_username(),
    }
