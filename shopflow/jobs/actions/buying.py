"""Buying the tools that plans wait for: ordered, counted on, put in the crib, received."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.operations import follow_tool
from shopflow.jobs.models import Job, Operation, Stage, ToolOrder
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import ledger
from shopflow.shop import actions as shop
from shopflow.shop import changes
from shopflow.shop.models import Tool


@transaction.atomic
def order_tool(
    what: str, *, by: User, due_on: date, supplier: str = "", ordered_on: date | None = None, tool: Tool | None = None,
    is_accepted: bool = False,
) -> ToolOrder:  # fmt: skip
    """Note that a tool is on order, or another day for one that is. A new day needs the lead's word again.

    is_accepted: a lead who orders says at once that plans may count on it.
    """
    require(by, Act.EDIT_SHOP)
    ordered = ordered_on or timezone.localdate()
    if due_on < ordered:
        raise NotPossible(_("It cannot come before it is ordered."))
    row = ToolOrder.objects.select_for_update().filter(what=what, received_on=None).first()
    before = row.due_on if row else None
    row = row or ToolOrder(what=what, tool=tool)
    row.supplier, row.ordered_on, row.due_on, row.ordered_by = supplier.strip(), ordered, due_on, by
    if before != due_on:
        row.accepted_by, row.accepted_at = None, None
    row.save()
    _noted("tool_ordered", row, by=by, due=due_on.isoformat())
    return count_on(row, by=by) if is_accepted else row


@transaction.atomic
def count_on(order: ToolOrder, *, by: User) -> ToolOrder:
    """A lead accepts the day: plans may be left with the tool on order; their release still waits for it."""
    require(by, Act.COUNT_ON_ORDER)
    now = _open(order)
    now.accepted_by, now.accepted_at = by, timezone.now()
    now.save(update_fields=["accepted_by", "accepted_at"])
    _noted("tool_counted_on", now, by=by, due=now.due_on.isoformat())
    return now


@transaction.atomic
def drop_order(order: ToolOrder, *, by: User) -> None:
    """It is not on order after all."""
    require(by, Act.EDIT_SHOP)
    now = _open(order)
    _noted("tool_order_dropped", now, by=by)
    now.delete()


@transaction.atomic
def put_in_crib(order: ToolOrder, tool: Tool, *, by: User) -> ToolOrder:
    """Give the tool its row in the crib, with none on hand while it is on order, and put it into the plans that wait
    for it: programs can then be written for its number.

    Raises ValidationError by field for a row that cannot be.
    """
    require(by, Act.EDIT_SHOP)
    tool.on_hand = 0
    return _into_crib(order, tool, by=by)


def _into_crib(order: ToolOrder, tool: Tool, *, by: User) -> ToolOrder:
    now = _open(order)
    if now.tool_id:
        raise NotPossible(_("It stands in the crib already, as %s.") % now.tool)
    waiting = _waiting_for(now)
    for chain in dict.fromkeys(row.setup.job.chain for row in waiting):
        ledger.lock(chain)  # before the shop's, which the row of the crib is written to
    shop.save(tool, by=by)
    now.tool = tool
    now.save(update_fields=["tool"])
    _put_into_plans(waiting, tool, by=by)
    return now


@transaction.atomic
def receive_tool(order: ToolOrder, *, by: User, quantity: int, tool: Tool | None = None) -> ToolOrder:
    """It is here. tool: its new row in the crib, for one that had none; else so many more are on hand."""
    require(by, Act.EDIT_SHOP)
    if quantity < 1:
        raise NotPossible(_("Say how many came."))
    if tool is not None:
        tool.on_hand = quantity
        now = _into_crib(order, tool, by=by)
    else:
        now = _open(order)
        kept = Tool.objects.select_for_update().filter(pk=now.tool_id).first() if now.tool_id else None
        if kept is None:
            raise NotPossible(_("It has no row in the crib yet: fill it in first."))
        kept.on_hand += quantity
        shop.save(kept, by=by)
        tool = kept
    now.received_on, now.received_by = timezone.localdate(), by
    now.save(update_fields=["received_on", "received_by"])
    _noted("tool_received", now, by=by, tool=tool.number)
    return now


def _open(order: ToolOrder) -> ToolOrder:
    now = ToolOrder.objects.select_for_update().filter(pk=order.pk).first()
    if now is None or not now.is_open:
        raise NotPossible(_("This order is received or taken back already. Load the list again."))
    return now


def _waiting_for(order: ToolOrder) -> list[Operation]:
    """Operations without a tool that want this one, in plans that are not on the floor."""
    rows = Operation.objects.filter(tool=None, wanted=order.what).select_related("setup__job", "setup__machine")
    return list(rows.exclude(setup__job__stage__in=(Stage.FLOOR, Stage.CLOSED)).order_by("setup__job", "pk"))


def _put_into_plans(waiting: list[Operation], tool: Tool, *, by: User) -> None:
    jobs: dict[int, Job] = {}
    for row in waiting:
        row.setup.job = jobs.setdefault(row.setup.job_id, row.setup.job)
        follow_tool(row, tool, by=by)
    for job in jobs.values():
        ledger.append("tool_in_plans", chain=job.chain, subject=("job", job.pk), by=by, tool=tool.number)
    if jobs:
        changes.announce(by=by, jobs=list(jobs))


def _noted(kind: str, order: ToolOrder, *, by: User, **payload: Any) -> None:
    ledger.append(kind, chain=ledger.SHOP, subject=("tool_order", order.pk), by=by, **payload)
