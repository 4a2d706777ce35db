"""What the job page shows: the stages as sections, the gate ahead, the history."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.floor import queries as floor
from shopflow.floor.models import Lot, Place, Standing
from shopflow.jobs import pages as jobs_pages
from shopflow.jobs.forms.intake import MaterialForm
from shopflow.jobs.models import Job, Stage, Step
from shopflow.papers import pages as papers
from shopflow.people.access import Act, may
from shopflow.people.models import User
from shopflow.programs import job_page as programs_page
from shopflow.records import ledger
from shopflow.workflow import gates, history, queries
from shopflow.workflow.actions import LEAVING
from shopflow.workflow.forms import HoldForm, ReturnForm, ShipForm
from shopflow.workflow.minutes import minutes_side_by_side
from shopflow.workflow.standing import strips_for

entries = history.all_entries

ORDER = (Stage.INTAKE, Stage.PLAN, Stage.REVIEW, Stage.RELEASE, Stage.FLOOR)
BODIES = {
    Stage.INTAKE: "jobs/_intake.html",
    Stage.PLAN: "jobs/_plan.html",
    Stage.REVIEW: "programs/_review_stage.html",
    Stage.RELEASE: "workflow/_release.html",
    Stage.FLOOR: "workflow/_floor.html",
}
ADVANCE_WORDS: dict[Stage, str | Promise] = {
    Stage.INTAKE: gettext_lazy("Intake is done: on to the plan"),
    Stage.PLAN: gettext_lazy("The plan stands: on to program review"),
    Stage.REVIEW: gettext_lazy("Programs are signed: on to release"),
    Stage.RELEASE: gettext_lazy("Release to the floor"),
    Stage.FLOOR: gettext_lazy("Close the job"),
}


@dataclass(frozen=True)
class StageSection:
    """One stage as a section of the page; body is only filled for the stages that are shown in full."""

    key: str
    name: str
    state: str
    note: str = ""
    url: str = ""
    body: str = ""


@dataclass(frozen=True)
class HeadCell:
    label: str
    value: object
    kind: str = ""


def job_context(job: Job, user: User, **more: Any) -> dict[str, Any]:
    """Everything the job page shows. Only the current stage is computed in full; others are a line and a link."""
    return {
        **gate_context(job, user),
        "counter": ledger.counter(),
        "strip": strips_for([job], user)[0],
        "cells": head_cells(job),
        "stages": sections(job),
        "entries": history.entries_of(job.chain, newest=12),
        "minutes": minutes_side_by_side(job),
        "history_url": reverse("workflow:history", args=[job.pk]),
        "key": uuid4().hex,
        **_stage_context(job, user),
        **more,
    }


def gate_context(job: Job, user: User) -> dict[str, Any]:
    """The gate ahead, and what this person may do about it."""
    conditions = gates.gate_of(job)
    return {
        "job": job,
        "conditions": conditions,
        "may_advance": may(user, LEAVING[job.stage]) if job.stage in LEAVING else False,
        "is_ready": not gates.unmet(conditions) and not job.held_reason,
        "advance_word": ADVANCE_WORDS.get(Stage(job.stage), ""),
        "short": queries.balance(job)["short"] if job.stage == Stage.FLOOR else 0,
        "may_hold": may(user, Act.HOLD) and job.is_open,
        "hold_form": HoldForm(),
    }


def head_cells(job: Job) -> list[HeadCell]:
    return [
        HeadCell(_("Job"), job.number, "number"),
        HeadCell(_("Part"), f"{job.revision}{' ' + job.part.name if job.part.name else ''}", "wide"),
        HeadCell(_("Customer"), job.customer.name, "wide"),
        HeadCell(_("Order"), " / ".join(filter(None, (job.order_number, job.order_line)))),
        HeadCell(_("Quantity"), job.quantity),
        HeadCell(_("Due"), date_format(job.due_on, "j M Y")),
        HeadCell(_("Material"), job.material or job.material_note, "wide"),
        HeadCell(_("Heat"), job.heat_number),
    ]


def sections(job: Job) -> list[StageSection]:
    now = len(ORDER) if job.stage == Stage.CLOSED else ORDER.index(Stage(job.stage))
    urls = {
        Stage.INTAKE: reverse("jobs:intake", args=[job.pk]),
        Stage.PLAN: reverse("jobs:plan", args=[job.pk]),
        Stage.REVIEW: reverse("programs:list", args=[job.pk]),
    }
    found = []
    for index, stage in enumerate(ORDER):
        state = "done" if index < now else "now" if index == now else "ahead"
        # A released job's packet and pieces are looked up as long as it lives, so those two stay filled.
        is_full = state == "now" or (state == "done" and stage in (Stage.RELEASE, Stage.FLOOR))
        body = BODIES[stage] if is_full else ""
        found.append(StageSection(stage.value, str(stage.label), state, url=urls.get(stage, ""), body=body))
    return found


def _stage_context(job: Job, user: User) -> dict[str, Any]:
    """The context of the current stage's fragment, from the app that owns it."""
    if job.stage == Stage.INTAKE:
        return jobs_pages.intake_context(job, user)
    if job.stage == Stage.PLAN:
        return jobs_pages.plan_context(job, user)
    if job.stage == Stage.REVIEW:
        return programs_page.stage_context(job, user)
    context = release_context(job, user)
    return context if job.stage == Stage.RELEASE else context | floor_context(job, user)


def release_context(job: Job, user: User) -> dict[str, Any]:
    packet = floor.packet_of(job)
    return {
        "packet": packet,
        "copies": list(packet.floor_copies.select_related("stored", "revision__program")) if packet else [],
        "traveler_work": packet.traveler_work if packet else None,
        "may_release": may(user, Act.RELEASE),
        "may_edit": may(user, Act.EDIT_JOB),
        "needs_heat": bool(job.material and job.material.needs_heat_number),
        "material_form": MaterialForm(initial={"heat_number": job.heat_number, "received": job.material_received}),
    }


def _bench_of(job: Job, lot: Lot | None) -> str:
    """Where a lot's nonconformances are decided: its last inspection, or the bench where it has none."""
    step = job.steps.filter(kind=Step.Kind.INSPECT).order_by("-op_number").first()
    return reverse("inspection:lot", args=[lot.pk, step.pk]) if lot and step else reverse("inspection:bench")


def _in_order_of_ops(standings: list[Standing]) -> list[Standing]:
    """What stands in the shop, as the list on the job's page has it: a link to an op leads to the first of its rows."""
    here = [standing for standing in standings if standing.place != Place.SHIPPED]
    return sorted(here, key=lambda standing: (standing.step.op_number, standing.lot.number, standing.place))


def floor_context(job: Job, user: User) -> dict[str, Any]:
    lots = list(floor.lots_of(job))
    last = job.steps.order_by("-op_number").first()
    ready = {lot: floor.standing_at(lot, last) for lot in lots} if last else {}
    to_ship = next((lot for lot, quantity in ready.items() if quantity), None)
    may_ship = may(user, Act.SHIP) and job.stage == Stage.FLOOR
    wanted = {"lot": to_ship, "quantity": ready[to_ship]} if to_ship else {}
    shipments = list(job.shipments.select_related("lot", "shipped_by"))
    return {
        "lots": lots,
        "balance": queries.balance(job),
        "standings": _in_order_of_ops(floor.standings_of([job])[job.pk]),
        "shipments": shipments,
        "ready_to_ship": sum(ready.values()),
        "may_ship": may_ship,
        "ship_problems": gates.ship_problems(job, to_ship) if may_ship and to_ship else [],
        "ship_mend": _bench_of(job, to_ship),
        "ship_form": ShipForm(lots=job.lots.all(), initial=wanted),
        "return_form": ReturnForm(shipments=job.shipments.all(), auto_id="return_%s") if shipments else None,
        **papers.papers_context(job, user),
    }
