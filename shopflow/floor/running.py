"""Which floor copies the program on a machine may be: of its op in any packet, and of the job's other ops."""

from __future__ import annotations

from datetime import datetime

from django.db.models import QuerySet

from shopflow.floor.models import FloorCopy, Lot, OpRun
from shopflow.jobs.models import Step

MOST_COPIES = 8
"""Different bytes of one op that are compared, the newest packets first; a job is rarely released as often."""


def copies_of(step: Step) -> list[FloorCopy]:
    """Every floor copy of an op whose bytes are still kept, of the newest packet first; the same bytes count once."""
    return _different(_copies(step))


def copies_of_other_ops(step: Step) -> list[tuple[Step, FloorCopy]]:
    """The newest copies of the job's other milling ops, with the op that runs them."""
    own = {copy.stored_id for copy in _copies(step)}
    others = Step.objects.filter(job=step.job_id, setup__isnull=False).exclude(pk=step.pk).exclude(setup=step.setup_id)
    rows = []
    for other in others.order_by("op_number"):
        copies = copies_of(other)
        newest = [copy for copy in copies if copy.packet_id == copies[0].packet_id and copy.stored_id not in own]
        rows += [(other, copy) for copy in newest]
    return rows


def superseding(copy: FloorCopy, step: Step, *, before: datetime | None = None) -> FloorCopy | None:
    """The copy that took this one's place at the op, in a newer packet with other bytes; None while it is the newest.

    before: packets released later do not count.
    """
    newer = _copies(step).filter(packet__number__gt=copy.packet.number)
    newer = newer.filter(packet__released_at__lte=before) if before else newer
    newest = newer.filter(use=copy.use).first() or newer.first()
    return newest if newest and newest.stored_id != copy.stored_id else None


def began_with(copy: FloorCopy, lot: Lot, step: Step) -> bool:
    """Whether a run of the lot that is still open began while this copy was the op's newest: it runs on with it."""
    run = OpRun.objects.filter(lot=lot, step=step, finished_at=None).first()
    if run is None:
        return False
    then = _copies(step).filter(packet__released_at__lte=run.started_at)
    newest = then.first()
    return newest is not None and newest.packet.number <= copy.packet.number


def _copies(step: Step) -> QuerySet[FloorCopy]:
    rows = FloorCopy.objects.filter(packet__job=step.job_id, revision__program__setups=step.setup_id)
    return rows.select_related("packet", "stored", "revision__program", "sign_off").order_by("-packet__number", "use")


def _different(copies: QuerySet[FloorCopy]) -> list[FloorCopy]:
    kept: dict[int, FloorCopy] = {}
    for copy in copies:
        if len(kept) < MOST_COPIES and copy.stored_id not in kept and not copy.stored.is_withdrawn:
            kept[copy.stored_id] = copy
    return list(kept.values())
