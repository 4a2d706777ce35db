"""The operations of a setup: laid out from a proposal, bent by people, timed again after each change."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction

from shopflow.core import planning
from shopflow.core.cutting.data import Suggestion
from shopflow.core.cutting.pecking import PeckStyle
from shopflow.core.measure import MM_PER_IN, Measure, parse
from shopflow.jobs import queries
from shopflow.jobs.actions.fixing import fix, write_typed
from shopflow.jobs.actions.lengths import typed_length
from shopflow.jobs.actions.locked import job_off_the_floor
from shopflow.jobs.models import Job, Operation, Setup, SetupTool, Step
from shopflow.people.access import Act, require
from shopflow.people.models import Units, User
from shopflow.records import ledger
from shopflow.shop import changes
from shopflow.shop.models import Tool

TYPED = ("what", "tool", "rpm", "feed", "peck_first", "peck_next", "axial", "radial", "minutes")
"""What a person may type about an operation."""
PASS = ("axial", "radial")
"""Left empty, these are proposed again: no pass is 0 deep."""
HUNDREDTH = Decimal("0.01")
WAY, TENTH = Decimal(1), Decimal("0.1")


def left_out_key(clamping: str, key: str) -> str:
    """How an operation that a person took out is remembered."""
    return f"op {clamping} {key}"


def fill_operations(setup: Setup, proposed: Sequence[planning.Operation], *, units: str) -> None:
    """Rows for the proposed operations; what a person typed, moved, added or took out stays."""
    order = list(setup.operations.select_related("tool"))
    kept = {row.key: row for row in order if row.key}
    tools = Tool.objects.in_bulk([one.tool.number for one in proposed if one.tool], field_name="number")
    speeds = queries.speeds_of(setup)
    rows = []
    for one in proposed:
        if left_out_key(setup.clamping, one.key) in setup.job.left_out:
            continue
        row = kept.pop(one.key, None) or Operation(setup=setup, key=one.key)
        _write_proposed(row, one, tools[one.tool.number] if one.tool else None)
        _retime(row, speeds, units=units)
        rows.append(row)
    for row in kept.values():
        if not row.fixed:
            row.delete()
    _save_in_order(_merged(rows, [row for row in order if row.pk]))
    sync_tools(setup)


def _write_proposed(row: Operation, one: planning.Operation, tool: Tool | None) -> None:
    row.kind = str(one.kind)
    row.facts = {name: getattr(one, name) for name in planning.FACTS}
    if "what" not in row.fixed:
        row.what = one.what[: _longest("what")]
    if "tool" not in row.fixed:
        row.tool = tool
        row.wanted = one.wanted.tool[: _longest("wanted")] if one.wanted else ""


def _merged(rows: list[Operation], before: list[Operation]) -> list[Operation]:
    """The proposed order; once a person moved one, theirs, with each new row after the one proposed before it."""
    if not any("position" in row.fixed for row in before):
        order = list(rows)
        for row in before:
            if row not in order:
                order.insert(min(row.position, len(order)), row)
        return order
    order = list(before)
    previous: Operation | None = None
    for row in rows:
        if row not in order:
            order.insert(order.index(previous) + 1 if previous else 0, row)
        previous = row
    return order


@transaction.atomic
def change_operation(row: Operation, *, by: User, **typed: Any) -> Operation:
    """Write what a person typed; those fields stay when the plan is proposed again, the others follow from them."""
    require(by, Act.PLAN)
    unknown = set(typed) - set(TYPED)
    if unknown:
        raise TypeError(f"an operation has no {', '.join(sorted(unknown))} to type")
    job, now = _locked(row)
    changed = write_typed(now, typed)
    if not changed:
        return now
    if "tool" in changed:
        now.wanted = ""
    now.fixed = [name for name in now.fixed if name not in PASS or getattr(now, name)]
    if {"tool", *PASS}.intersection(changed):
        planning.checked(now.as_core(), *queries.typed_pass(now), queries.said_in(by.units))
    _retime(now, queries.speeds_of(now.setup), units=by.units)
    now.save()
    _followed(now.setup)
    _noted("operation_changed", job, now, by=by, fields=changed)
    return now


def follow_tool(row: Operation, tool: Tool, *, by: User) -> None:
    """The tool that the operation waited for has its row in the crib: speeds and minutes follow from it."""
    row.tool, row.wanted = tool, ""
    _retime(row, queries.speeds_of(row.setup), units=by.units)
    row.save()
    _followed(row.setup)


@transaction.atomic
def add_operation(setup: Setup, *, by: User, kind: str, what: str, tool: Tool | None = None) -> Operation:
    """One more, at the end of the setup; a new proposal leaves it there."""
    require(by, Act.PLAN)
    job = job_off_the_floor(setup.job)
    row = Operation(setup=setup, kind=kind, what=what, tool=tool, fixed=["kind", "tool", "what"])
    _retime(row, queries.speeds_of(setup), units=by.units)
    _save_in_order([*setup.operations.all(), row])
    _followed(setup)
    _noted("operation_added", job, row, by=by)
    return row


@transaction.atomic
def move_operation(row: Operation, *, by: User, up: bool) -> Operation:
    """Change places with the neighbour; the order is then a person's and stays."""
    require(by, Act.PLAN)
    job, now = _locked(row)
    order = list(now.setup.operations.all())
    place = next(index for index, other in enumerate(order) if other.pk == now.pk)
    other = place - 1 if up else place + 1
    if not 0 <= other < len(order):
        return now
    order[place], order[other] = order[other], order[place]
    fix(order[other], "position")
    _save_in_order(order)
    _followed(now.setup)
    _noted("operation_moved", job, order[other], by=by)
    return order[other]


@transaction.atomic
def remove_operation(row: Operation, *, by: User) -> None:
    """Take it out; a new proposal does not bring it back."""
    require(by, Act.PLAN)
    job, now = _locked(row)
    if now.key:
        job.left_out = sorted({*job.left_out, left_out_key(now.setup.clamping, now.key)})
        job.save(update_fields=["left_out"])
    _noted("operation_removed", job, now, by=by)
    setup = now.setup
    now.delete()
    _save_in_order(list(setup.operations.all()))
    _followed(setup)


def forget_tool(setup: Setup, tool: Tool) -> None:
    """The setup's tool was dropped: its operations need another, which a person or a new proposal picks."""
    for row in setup.operations.filter(tool=tool):
        row.tool, row.minutes = None, None
        row.fixed = [name for name in row.fixed if name != "tool"]
        row.save()


def sync_tools(setup: Setup) -> None:
    """The tools of the setup follow from its operations, unless a person picked them; what they fixed is among them."""
    rows = [row for row in setup.operations.select_related("tool") if row.tool]
    if "tools" in setup.fixed:
        rows = [row for row in rows if "tool" in row.fixed]
    elif rows:
        setup.setup_tools.all().delete()
    longest = SetupTool._meta.get_field("purpose").max_length or 0
    purposes: dict[int, list[str]] = {}
    for row in rows:
        said = purposes.setdefault(row.tool_id or 0, [])
        if (purpose := row.as_core().purpose) not in said:
            said.append(purpose)
    known = set(setup.setup_tools.values_list("tool_id", flat=True))
    SetupTool.objects.bulk_create(
        SetupTool(setup=setup, tool_id=pk, purpose=_shortened(", ".join(said), longest))
        for pk, said in purposes.items()
        if pk not in known
    )


def _followed(setup: Setup) -> None:
    """What follows from the operations: the setup's tools, and the minutes of its step."""
    sync_tools(setup)
    retime_step(setup)
    retime_by_hand(setup.job)


def retime_operations(setup: Setup, *, units: str) -> None:
    """The setup went to another machine: speeds, feeds and minutes again, as far as nobody typed them."""
    speeds = queries.speeds_of(setup)
    for row in setup.operations.select_related("tool"):
        _retime(row, speeds, units=units)
        row.save()
    retime_step(setup)


def retime_step(setup: Setup) -> None:
    """Minutes of the setup's step from its operations, tools and workholding, as far as nobody typed them."""
    step = Step.objects.filter(setup=setup).first()
    if step is not None:
        _put_minutes(step, minutes_each=queries.minutes_of(setup), minutes_setup=queries.set_up_minutes_of(setup))


def retime_by_hand(job: Job) -> None:
    """Minutes of deburring and inspecting from what is left to hands and what is measured."""
    rules = queries.plan_rules()
    for step in job.steps.filter(kind__in=(Step.Kind.DEBURR, Step.Kind.INSPECT), setup=None):
        is_deburr = step.kind == Step.Kind.DEBURR
        parts = queries.deburring_of(job, rules) if is_deburr else queries.inspecting_of(job, rules)
        _put_minutes(step, minutes_each=_sum(parts))


def _sum(parts: Sequence[planning.MinutesPart]) -> Decimal | None:
    return Decimal(str(sum(part.minutes for part in parts))) if parts else None


def _put_minutes(step: Step, **minutes: Decimal | None) -> None:
    names = [name for name, value in minutes.items() if value is not None and name not in step.fixed]
    for name in names:
        setattr(step, name, (minutes[name] or Decimal(0)).quantize(HUNDREDTH))
    if names:
        step.save(update_fields=names)


def _retime(row: Operation, speeds: planning.Speeds, *, units: str) -> None:
    """Speed, feed, pecks and minutes again, as far as a person did not type them."""
    made = planning.timed(row.as_core(), speeds, queries.typed_of(row))
    speed = made.speed
    proposed: dict[str, object] = {"rpm": None, "feed": None, "peck_first": None, "peck_next": None, "minutes": None}
    proposed |= {name: typed_length(mm, units) if mm else None for name, mm in zip(PASS, _pass_of(made), strict=True)}
    if speed is not None:
        proposed |= {"rpm": round(speed.rpm), "feed": _feed(speed.feed_mm_min, units), **_pecks(speed, units)}
    if made.minutes is not None and row.facts:
        proposed["minutes"] = Decimal(str(made.minutes)).quantize(HUNDREDTH)
    for name, value in proposed.items():
        if name not in row.fixed:
            setattr(row, name, value)
    row.source = speed.source[: _longest("source")] if speed else ""
    row.limits = "; ".join(speed.limits)[: _longest("limits")] if speed else ""


def _pass_of(made: planning.Operation) -> tuple[float, float]:
    return made.axial_mm, made.radial_mm


def _pecks(speed: Suggestion, units: str) -> dict[str, Measure | None]:
    peck = speed.peck
    if peck is None or peck.style is PeckStyle.PLUNGE:
        return {"peck_first": None, "peck_next": None}
    return {"peck_first": typed_length(peck.first_mm, units), "peck_next": typed_length(peck.next_mm, units)}


def _feed(mm_min: float, units: str) -> Measure:
    """A feed as somebody would type it: whole millimetres, or tenths of an inch, a minute."""
    number = Decimal(str(mm_min))
    value, places = (number / MM_PER_IN, TENTH) if units == Units.INCH else (number, WAY)
    return parse(f"{value.quantize(places)} {units}", default_unit=units)


def _save_in_order(order: Sequence[Operation]) -> None:
    for position, row in enumerate(order, start=1):
        row.position = position
        row.save()


def _locked(row: Operation) -> tuple[Job, Operation]:
    job = job_off_the_floor(row.setup.job)
    now = Operation.objects.select_for_update().get(pk=row.pk)
    now.setup.job = job
    return job, now


def _noted(kind: str, job: Job, row: Operation, *, by: User, **payload: Any) -> None:
    ledger.append(
        kind, chain=job.chain, subject=("job", job.pk), by=by, setup=row.setup.number, operation=row.kind, **payload
    )
    changes.announce(by=by, jobs=[job.pk])


def _longest(name: str) -> int:
    return getattr(Operation._meta.get_field(name), "max_length", None) or 0


def _shortened(text: str, longest: int) -> str:
    return text if len(text) <= longest else f"{text[: longest - 1]}…"
