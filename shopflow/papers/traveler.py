"""What the traveler of a packet says."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from shopflow.core.planning import group_holes
from shopflow.floor.models import FloorCopy, Packet
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, SetupTool, Step, Touch
from shopflow.papers.codes import qr_svg
from shopflow.papers.common import address, frame, page_size
from shopflow.papers.inspection_sheet import sheet_of
from shopflow.papers.pictures import Picture, drawing_for, pictures_for
from shopflow.papers.restarts import Row, rows_for
from shopflow.programs import proven as proofs
from shopflow.programs import queries as programs
from shopflow.programs.assumptions import Change, differences
from shopflow.programs.proven import Proven
from shopflow.shop.models import Edge, Tool

ROWS_AT_EASE = 5
"""Tools and restarts that go on a setup's page with room around them."""


@dataclass(frozen=True)
class Line:
    """One op of the routing as printed. stop_before: a person turns the part between this op and the one before.

    copy: what runs over the lot. prove_out: the same with optional stops, for the first piece. stops: the M00 in the
    program; optional_stops: how many M01 are; touches: what the plan has a person do that no stop says by itself.
    seconds: what each tool takes a piece in this setup, as reviewed; empty where the program tells no setups apart.
    proven: the lot of an earlier time that these bytes ran through without a change.
    """

    step: Step
    copy: FloorCopy | None
    prove_out: FloorCopy | None
    stops: list[dict[str, Any]]
    optional_stops: int
    touches: list[Touch]
    seconds: dict[int, float]
    url: str
    code: SafeString
    stop_before: bool
    proven: Proven | None = None

    @property
    def since(self) -> list[Change]:
        """What differs between the sign-off under which these bytes were proven and the one that they run under."""
        if self.copy is None or self.proven is None:
            return []
        was, now = self.proven.sign_off.assumptions, self.copy.sign_off.assumptions
        return differences(json.loads(was), json.loads(now))

    @property
    def cycle_s(self) -> float:
        return sum(self.seconds.values())


def page_of() -> str:
    """The sheets of a traveler: the shop's paper, and turned on its side for what is wide."""
    size = page_size()
    return f"@page {{ size: {size}; }} @page wide {{ size: {size} landscape; }}"


def context_of(packet: Packet) -> dict[str, Any]:
    """Everything that papers/traveler.html prints, read in one go."""
    job = packet.job
    steps = list(
        job.steps.select_related("setup__machine").prefetch_related("setup__setup_tools__tool", "setup__touches")
    )
    reading = jobs.reading_of(job)
    copies = list(packet.floor_copies.select_related("stored", "sign_off", "revision__program"))
    lines = _lines(packet, steps, copies)
    return {
        **frame(job, address("papers:scan_traveler", packet.pk)),
        "packet": packet,
        "heats": heats if len(heats := heat_lines(job)) > 1 else [],
        "lines": lines,
        "setups": _setups(job, lines),
        "drawing": drawing_for(job) if jobs.has_model(job) else None,
        "hole_groups": group_holes(reading.holes) if reading else [],
        "reading": reading,
        "deburr": [line for line in lines if line.step.kind == Step.Kind.DEBURR],
        "inspections": [(line, sheet_of(job, line.step)) for line in lines if line.step.kind == Step.Kind.INSPECT],
        "cautions": cautions(job.material.caution if job.material else ""),
    }


def heat_lines(job: Job) -> list[str]:
    """Which lot is of which heat: as the lots are on the floor, else as the release will make them."""
    lots = list(job.lots.order_by("number"))
    parts = [(lot.number, lot.heat_number, lot.released) for lot in lots]
    planned = [(n, one.heat, one.pieces or 0) for n, one in enumerate(jobs.heat_shares(job), start=1)]
    said = _("lot %(lot)d: %(heat)s\u00a0×\u00a0%(pieces)d")
    return [said % {"lot": n, "heat": heat or "–", "pieces": pieces} for n, heat, pieces in parts or planned]


def _lines(packet: Packet, steps: list[Step], copies: list[FloorCopy]) -> list[Line]:
    by_setup = {
        (pk, copy.use): copy for copy in copies for pk in copy.revision.program.setups.values_list("pk", flat=True)
    }
    readings = {copy.revision_id: programs.reading(copy.revision) or {} for copy in copies}
    proven_by = _proofs(copies)
    found: list[Line] = []
    for step in steps:
        url = address("floor:scan", packet.pk, step.pk)
        copy, prove_out = (
            by_setup.get((step.setup_id or 0, use)) for use in (FloorCopy.Use.LOT, FloorCopy.Use.PROVE_OUT)
        )
        turns = bool(found) and step.kind == Step.Kind.MILL and found[-1].step.kind == Step.Kind.MILL
        reading = readings[copy.revision_id] if copy else {}
        inside = reading.get("stops", [])
        asked = [stop for stop in inside if stop["kind"] != "M01"]
        optional = len(inside) - len(asked)
        unsaid, seconds = _unsaid(step, asked), _seconds(step, copy, reading)
        machine = step.setup.machine if step.setup else None
        proven = proofs.on(proven_by[copy.revision_id], machine) if copy else None
        found.append(Line(step, copy, prove_out, asked, optional, unsaid, seconds, url, qr_svg(url), turns, proven))
    return found


def _proofs(copies: list[FloorCopy]) -> dict[int, list[Proven]]:
    """By revision, on each machine; of one taken over from an earlier job, what proved it there."""
    origin = {copy.revision_id: copy.revision.repeats_id for copy in copies}
    found = proofs.on_each_machine({*origin, *(before for before in origin.values() if before)})
    return {revision: found.get(revision) or found.get(before or 0) or [] for revision, before in origin.items()}


def _seconds(step: Step, copy: FloorCopy | None, reading: dict[str, Any]) -> dict[int, float]:
    """Tool to seconds in the setup of a step: by its own work offset, or the whole program where it runs no other."""
    if copy is None or step.setup is None:
        return {}
    is_alone = copy.revision.program.setups.count() == 1
    times: dict[int, float] = {}
    for section in reading.get("sections", []):
        if is_alone or section["setup"] == step.setup.number:
            times[section["tool"]] = times.get(section["tool"], 0.0) + section["seconds"]
    return times


def _unsaid(step: Step, stops: list[dict[str, Any]]) -> list[Touch]:
    said = {stop["text"].lower() for stop in stops}
    return [touch for touch in step.setup.touches.all() if touch.reason.lower() not in said] if step.setup else []


@dataclass(frozen=True)
class SetupPage:
    line: Line
    picture: Picture
    restarts: list[Row]

    @property
    def tools(self) -> list[tuple[SetupTool, float | None, str]]:
        """Each tool of the setup with what it takes a piece, and how its edge stood when this was printed."""
        setup, seconds = self.line.step.setup, self.line.seconds
        rows = setup.setup_tools.all() if setup else []
        return [(row, seconds.get(row.tool.number), _edge(row.tool)) for row in rows]

    @property
    def is_full(self) -> bool:
        """Set closer, so that what a setup needs stays on one page for as long as it can."""
        setup = self.line.step.setup
        located = 2 if setup and (setup.located_on or setup.fixture) else 0
        return (len(setup.setup_tools.all()) if setup else 0) + len(self.restarts) + located > ROWS_AT_EASE


def _edge(tool: Tool) -> str:
    """Nothing of a sharp tool that nobody counts."""
    return tool.edge_said if tool.life is not None or tool.edge != Edge.SHARP else ""


def _setups(job: Job, lines: list[Line]) -> list[SetupPage]:
    """A page for each setup of the routing."""
    with_setup = [(line, line.step.setup) for line in lines if line.step.setup]
    pictures = pictures_for(job, [setup for _, setup in with_setup]) if with_setup else []
    return [
        SetupPage(line, picture, rows_for(setup, line.copy, line.prove_out))
        for (line, setup), picture in zip(with_setup, pictures, strict=True)
    ]


def cautions(of_material: str) -> list[str]:
    """The usual cautions, and the material's own. Sources: 29 CFR 1910.212, 1910.242(b); the rest common practice."""
    usual = [
        _("Guards and door interlocks work and stay in use (29 CFR 1910.212)."),
        _("Eye protection on. No gloves, loose sleeves, long hair or jewellery near a turning spindle."),
        _("First run: single block, rapid turned down, a hand at feed hold; offsets, lengths, clearance checked."),
        _("Cleaning air under 30 psi with chip guarding, never on people (29 CFR 1910.242(b)). Burrs cut."),
        _("Weigh stock and fixture before lifting; use a hoist over the shop's limit."),
        _(
            "The machine builder's manual, local rules and licensed practice come before this paper. "
            "A clean review does not say that a program is safe."
        ),
    ]
    return [of_material, *usual] if of_material else usual
