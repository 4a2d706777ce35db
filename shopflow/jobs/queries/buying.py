"""Tools that plans need and that cannot be put in a spindle: which, for what, by when, whether on order."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from zlib import crc32

from django.db.models import F
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from shopflow.core import planning
from shopflow.jobs.models import Job, Operation, Stage, ToolOrder
from shopflow.jobs.queries.operations import needed_by
from shopflow.jobs.queries.plan import tools_proposed
from shopflow.people.models import Units
from shopflow.shop.models import Tool

LONGEST = Operation._meta.get_field("wanted").max_length or 0


@dataclass(frozen=True)
class ToBuy:
    """A tool that a plan needs and that cannot be put in the spindle. tool: the one there is none of, where it is in
    the crib; what: the size that would do. by: the day the job has to start. order: the one that is open for it."""

    what: str
    tool: Tool | None
    purpose: str
    job: Job
    by: date
    order: ToolOrder | None = None

    @property
    def anchor(self) -> str:
        """Where the page of all tools to buy shows this line."""
        return f"want-{self.job.pk}-{crc32(self.what.encode()):08x}"

    @property
    def comes_late(self) -> bool:
        return self.order is not None and self.order.due_on > self.by

    @property
    def is_overdue(self) -> bool:
        return self.order is not None and self.order.due_on < timezone.localdate()

    @property
    def is_counted_on(self) -> bool:
        """Whether the plan may be left with it: it stands in the crib, or a lead accepted the day on which it comes."""
        if self.tool is not None:
            return True
        return self.order is not None and self.order.accepted_by_id is not None and not self.is_overdue

    @property
    def why_not(self) -> str:
        """What is missing so that the plan may count on it; "" where it may."""
        if self.is_counted_on:
            return ""
        if self.order is None:
            return _("not in the crib and not on order")
        day = date_format(self.order.due_on, "j M Y")
        if self.is_overdue:
            return _("was to come on %s and is not here: note another day, or pick another tool") % day
        return _("on order for %s, and no lead has said yet that the plan may count on that") % day

    @property
    def how_it_stands(self) -> str:
        """For the release, which waits for the tool itself."""
        if self.order is None:
            return _("none on hand, and not on order") if self.tool else _("not in the crib and not on order")
        return _("on order, comes %s") % date_format(self.order.due_on, "j M Y")

    def __str__(self) -> str:
        return self.what


def to_buy(job: Job | None = None) -> list[ToBuy]:
    """Tools that plans need and the shop does not have, soonest first; of one job, or of all that are not yet run."""
    rows = Operation.objects.select_related("setup__job__revision__part__customer", "tool")
    waiting = rows.exclude(setup__job__stage__in=(Stage.FLOOR, Stage.CLOSED)).filter(setup__manual_reason="")
    if job is not None:
        waiting = waiting.filter(setup__job=job)
    lacking = waiting.filter(tool=None) | waiting.filter(tool__on_hand=0)
    days: dict[int, date] = {}
    found: dict[tuple[int, str], ToBuy] = {}
    orders = open_orders()
    for row in lacking.order_by(F("setup__job__due_on"), "setup__number", "position"):
        owner = row.setup.job
        day = days.setdefault(owner.pk, needed_by(owner))
        what = what_is_wanted(row)
        known = found.get((owner.pk, what))
        said = row.as_core().purpose
        purpose = f"{known.purpose}; {said}" if known else said
        found[owner.pk, what] = ToBuy(what, row.tool, purpose, owner, day, _order_of(what, row.tool, orders))
    return sorted(found.values(), key=lambda one: (one.by, one.job.number, one.what))


def tools_lacking(job: Job, *, units: str = Units.MM) -> list[ToBuy]:
    """What the plan of a job waits for: the lines of the list of tools to buy, tools of setups that a person picked
    and of which there is none, and what a proposal of today would need besides."""
    lines = to_buy(job)
    known, day = {line.what for line in lines}, needed_by(job)
    orders = open_orders()
    for tool in Tool.objects.filter(pk__in=job.setups.values("setup_tools__tool"), on_hand=0):
        if str(tool) not in known:
            lines.append(ToBuy(str(tool), tool, "", job, day, _order_of(str(tool), tool, orders)))
    for want in tools_proposed(job, units=units):
        what = want.tool[:LONGEST]
        if what not in known:
            known.add(what)
            lines.append(ToBuy(what, None, want.purpose, job, day, _order_of(what, None, orders)))
    return lines


def tools_missing(job: Job, *, units: str = Units.MM) -> list[ToBuy]:
    """Tools that keep the job in plan: not in the crib, and not on order for a day that a lead accepted."""
    return [line for line in tools_lacking(job, units=units) if not line.is_counted_on]


def what_is_wanted(row: Operation) -> str:
    """As the list of tools to buy says it."""
    if row.wanted or row.tool:
        return row.wanted or str(row.tool)
    return (_("a tool for %s") % row)[:LONGEST]


def open_orders() -> list[ToolOrder]:
    return list(ToolOrder.objects.filter(received_on=None).select_related("tool", "accepted_by", "ordered_by"))


def _order_of(what: str, tool: Tool | None, orders: list[ToolOrder]) -> ToolOrder | None:
    by_tool = (order for order in orders if tool is not None and order.tool_id == tool.pk)
    return next((order for order in orders if order.what == what), None) or next(by_tool, None)


def crib_row_of(order: ToolOrder) -> planning.CribRow:
    """What the plans that wait for it know of the tool."""
    waiting = Operation.objects.filter(wanted=order.what).first()
    return planning.crib_row(order.what, planning.OperationKind(waiting.kind) if waiting else None)
