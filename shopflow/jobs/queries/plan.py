"""How a job is to be made: its routing, setups, tools and characteristics, and what they lack."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from shopflow.core import types
from shopflow.core.measure import Measure
from shopflow.core.planning import Given, Proposal, SizeLimits, ThreadsShown, Wanted, propose
from shopflow.core.quality.sampling import asked_of
from shopflow.jobs.models import Characteristic, Job, Operation, PlanApproval, Setup, Step, Threads, ToolOrder
from shopflow.jobs.queries.blank_model import cast_reading
from shopflow.jobs.queries.clampings import laid_out
from shopflow.jobs.queries.habits import plan_rules
from shopflow.jobs.queries.intake import current_file
from shopflow.jobs.queries.model import reading_of
from shopflow.jobs.queries.operations import correction_now
from shopflow.jobs.queries.stock import sawn_mm
from shopflow.people.models import Units
from shopflow.records.canonical import digest
from shopflow.shop import queries as shop
from shopflow.shop.models import Machine, Tool

PLAN_FORMAT = 1
SHOWN = {Threads.MINOR: ThreadsShown.MINOR, Threads.MAJOR: ThreadsShown.MAJOR}
DIAMETER = ("\u2300", "ø", "dia", "hole", "bore", "ream", "h7", "h8")
NO_DIAMETER = ("depth", "deep", "position", "counter", "csink", "cbore", "c'bore", "distance", "apart")
"""Words in the name of a characteristic of a hole, and those that say it is about something else."""
LENGTHS = ("mm", "in")
HELD = ("jaw_length", "jaw_thick", "parallel_height", "parallel_thick")
VARY = ("vary_x", "vary_y", "vary_z")


def steps_of(job: Job) -> list[Step]:
    """The routing in order of op numbers."""
    return list(job.steps.select_related("setup__machine"))


def setups_of(job: Job) -> list[Setup]:
    """The setups with machine, fixture, tools, operations and touches."""
    along = ("setup_tools__tool", "touches__after_tool", "operations__tool__holder")
    return list(job.setups.select_related("machine", "fixture").prefetch_related(*along))


def characteristics_of(job: Job) -> list[Characteristic]:
    """What is to be measured, by balloon number."""
    return list(job.characteristics.select_related("step", "gauge"))


def proposal_of(job: Job, *, units: str = Units.MM, crib: QuerySet[Tool] | None = None) -> Proposal | None:
    """What the model, the crib and the machines of today would make of the job; None without a reading of one part.

    units: what its sentences say lengths in, and what the blank is rounded to. crib: what may be picked, as a rule the
    tools that are on hand or on order.
    """
    reading = reading_of(job)
    if reading is None or reading.needs_choice:
        return None
    given = Given(
        crib=[tool.as_core() for tool in (_to_pick_from() if crib is None else crib).select_related("holder")],
        machines=[shop.core_machine(machine) for machine in Machine.objects.all()],
        material=job.material.as_core() if job.material else None,
        measurements=measurements_each(job),
        rules=plan_rules(units),
        sawn_mm=sawn_mm(job),
        own=shop.own_cutting_data(),
        threads=SHOWN.get(Threads(job.threads), ThreadsShown.NOT_SAID) if job.threads else ThreadsShown.NOT_SAID,
        correction=correction_now(),
        settled=_settled(job),
        over_mm=_typed_over(job),
        sizes=_typed_sizes(job),
        grips_mm=_typed_grips(job),
        cast=cast_reading(job),
    )
    return propose(reading, given)


def _to_pick_from() -> QuerySet[Tool]:
    on_order = ToolOrder.objects.filter(received_on=None).values("tool")
    return Tool.objects.filter(Q(on_hand__gt=0) | Q(pk__in=on_order))


def _typed_sizes(job: Job) -> list[SizeLimits]:
    """Diameters with both limits among the characteristics; which they are is told by their names."""
    rows = [row for row in job.characteristics.all() if _says_diameter(row.name)]
    return [
        SizeLimits(row.nominal.mm, row.lower.mm, row.upper.mm)
        for row in rows
        if row.nominal and row.lower and row.upper and row.nominal.unit in LENGTHS
    ]


def _says_diameter(name: str) -> bool:
    words = name.casefold()
    return any(word in words for word in DIAMETER) and not any(word in words for word in NO_DIAMETER)


def _typed_over(job: Job) -> dict[str, float]:
    """By side, how far the stock stands over the part where a person typed it."""
    setups = [setup for setup in job.setups.all() if "blank_over" in setup.fixed and setup.blank_over]
    return {setup.clamping: setup.blank_over.mm for setup in setups if setup.blank_over}


def _typed_grips(job: Job) -> dict[str, float]:
    """By side, how much is gripped where a person typed it; 0 for nothing."""
    return {s.clamping: s.grip.mm if s.grip else 0.0 for s in job.setups.all() if "grip" in s.fixed}


def measurements_each(job: Job) -> float:
    """How often a piece is measured, on the average of the lot, by the sampling of its characteristics."""
    asked = [asked_of(row.rule, job.quantity) for row in job.characteristics.all()]
    return sum(1 if one.any_one else len(one.pieces) for one in asked) / job.quantity


def _settled(job: Job) -> dict[str, list[types.Tool]]:
    """By side, the tools of the setups for which a person picked them."""
    setups = job.setups.prefetch_related("setup_tools__tool__holder")
    return {
        setup.clamping: [row.tool.as_core() for row in setup.setup_tools.all()]
        for setup in setups
        if "tools" in setup.fixed
    }


def setups_missing(job: Job) -> list[str]:
    """For each setup that is not ready, a sentence with everything it lacks."""
    return [
        _("setup %(number)d lacks %(what)s") % {"number": setup.number, "what": ", ".join(lacks)}
        for setup, lacks in setups_with_lacks(job)
        if lacks
    ]


def setups_with_lacks(job: Job, *, is_approved: bool | None = None) -> list[tuple[Setup, list[str]]]:
    """is_approved: whether the plan is, where the caller knows."""
    setups = setups_of(job)
    in_words = is_placed_in_words(job, setups, is_approved=is_approved)
    return [(setup, setup_lacks(setup, in_words=in_words)) for setup in setups]


def is_placed_in_words(job: Job, setups: list[Setup], *, is_approved: bool | None = None) -> bool:
    """Whether words say where the part zeros are: without a model, and in a plan approved before zeros had numbers.

    Without numbers nobody approves a plan any more, so an approval that holds is from before.
    """
    if not has_model(job):
        return True
    if not without_zero(setups):
        return False
    return is_plan_approved(job) if is_approved is None else is_approved


def setup_lacks(setup: Setup, *, in_words: bool) -> list[str]:
    """What this setup lacks. A manual op needs to be held and fed, but no part zero and no tools of the crib.

    in_words: see is_placed_in_words.
    """
    asked: list[tuple[object, str]] = [(setup.workholding, _("workholding")), (setup.stock_in, _("stock in"))]
    if not setup.is_manual:
        is_placed = setup.zero or (in_words and setup.zero_point)
        zero = _("a part zero") if in_words else _("a part zero on the model")
        asked += [(setup.machine, _("a machine")), (is_placed, zero), (list(setup.setup_tools.all()), _("tools"))]
    return [name for value, name in asked if not value]


def setups_without_zero(job: Job) -> list[Setup]:
    """The milled setups whose part zero is not known as a point of the model; none where there is no model."""
    return without_zero(job.setups.all()) if has_model(job) else []


def without_zero(setups: Iterable[Setup]) -> list[Setup]:
    return [setup for setup in setups if not setup.is_manual and not setup.zero]


def has_model(job: Job) -> bool:
    """Whether the job is planned from a model; one that is kept for reference beside a print is none."""
    return job.reading_id is not None and not job.no_model_reason


def tools_proposed(job: Job, *, units: str = Units.MM) -> list[Wanted]:
    """What a proposal of today would need and no row of the crib is, for setups whose tools no person has settled."""
    proposal = proposal_of(job, units=units, crib=Tool.objects.all())
    if proposal is None:
        return []
    rows = laid_out(proposal, list(job.setups.all()))
    open_to = {number for number, row in rows.items() if "tools" not in row.fixed and not row.is_manual}
    wanted = [want for setup in proposal.setups if setup.number in open_to for want in setup.wanted]
    return list(dict.fromkeys(wanted))


def unassigned_characteristics(job: Job) -> QuerySet[Characteristic]:
    """Characteristics that no inspection step measures."""
    return job.characteristics.exclude(step__kind=Step.Kind.INSPECT)


def plan_hash(job: Job) -> str:
    """SHA-256 of the plan as typed values. Minutes, titles and pick-up do not count: they change no part."""
    return digest(plan_facts(job))


def plan_facts(job: Job) -> dict[str, Any]:
    """Everything that an approval of the plan is about."""
    model = current_file(job, "model")
    return {
        "format": PLAN_FORMAT,
        "revision": job.revision_id,
        "material": job.material_id,
        "model": {"sha256": model.stored.sha256, "solid": job.solid_index} if model else None,
        "setups": [_setup_facts(setup) for setup in setups_of(job)],
        "steps": [_step_facts(step) for step in steps_of(job)],
        "characteristics": [_characteristic_facts(row) for row in characteristics_of(job)],
    }


def approval_of(job: Job) -> PlanApproval | None:
    """The newest approval, whether or not it still holds."""
    return job.plan_approvals.select_related("approved_by").first()


def is_plan_approved(job: Job, now: str = "") -> bool:
    """Whether a person approved the plan as it is now. now: its hash, where that was computed already."""
    return job.plan_approvals.filter(plan_hash=now or plan_hash(job)).exists() and job.steps.exists()


def _setup_facts(setup: Setup) -> dict[str, Any]:
    return {
        "number": setup.number,
        "machine": setup.machine_id,
        "up": setup.up,
        "workholding": setup.workholding,
        "grip": _typed(setup.grip),
        "work_offset": setup.work_offset,
        "zero_point": setup.zero_point,
        "stock_in": setup.stock_in,
        "blank": [_typed(length) for length in (setup.blank_x, setup.blank_y, setup.blank_z)],
        "manual_reason": setup.manual_reason,
        "tools": sorted(row.tool_id for row in setup.setup_tools.all()),
        "touches": [[touch.after_tool_id, touch.reason] for touch in setup.touches.all()],
        **_said_facts(setup),
    }


def _said_facts(setup: Setup) -> dict[str, Any]:
    """What plans did not say from the beginning: left out while it is unknown, or every older approval would lapse."""
    facts: dict[str, Any] = {}
    if setup.zero:
        facts |= {"along_x": setup.along_x, "zero": [_typed(at) for at in setup.zero]}
    if setup.is_aslant:
        facts["angles"] = [f"{angle:g}" for angle in setup.angles]
    if setup.blank_over:
        facts["blank_over"] = _typed(setup.blank_over)
    if setup.fixture_id:
        facts["fixture"] = setup.fixture_id
    located = [setup.fixed_jaw, setup.stop_side, setup.located_on, setup.datums]
    if {"fixed_jaw", "stop_side", "located_on", "datums"} & set(setup.fixed):
        facts["located"] = located
    if setup.held_by:
        facts["held"] = [setup.held_by, setup.jaws_along, setup.solids, *(_typed(getattr(setup, n)) for n in HELD)]
    if setup.held_by and setup.bed_height:
        facts["bed_height"] = _typed(setup.bed_height)
    if setup.blank_round or setup.blank_holes:
        facts["blank_form"] = [setup.blank_round, setup.blank_holes]
    if setup.blank_file:
        facts["blank_model"] = setup.blank_file.stored.sha256
    if operations := list(setup.operations.all()):
        facts["operations"] = [_operation_facts(row) for row in operations]
    if any(getattr(setup, name) for name in VARY):
        facts["vary"] = [_typed(getattr(setup, name)) for name in VARY]
    return facts


def _operation_facts(row: Operation) -> list[Any]:
    """A pass that nobody typed is left out: it follows from the tool, and older approvals do not hold it."""
    said = [row.kind, row.what, row.tool_id, row.rpm, _typed(row.feed), _typed(row.peck_first), _typed(row.peck_next)]
    typed = {name: _typed(getattr(row, name)) for name in ("axial", "radial") if name in row.fixed}
    return [*said, typed] if typed else said


def _step_facts(step: Step) -> dict[str, Any]:
    return {
        "op": step.op_number,
        "kind": step.kind,
        "instructions": step.instructions,
        "setup": step.setup.number if step.setup else None,
        "first_piece": step.first_piece,
    }


def _characteristic_facts(row: Characteristic) -> dict[str, Any]:
    return {
        "number": row.number,
        "name": row.name,
        "limits": [_typed(length) for length in (row.nominal, row.lower, row.upper)],
        "step": row.step.op_number if row.step else None,
        "gauge": row.gauge_id,
        **({"sampling": row.sampling} if row.sampling else {}),
        **({"kind": row.kind} if row.kind else {}),
    }


def _typed(measure: Measure | None) -> list[Any] | None:
    return [measure.value, measure.unit] if measure else None
