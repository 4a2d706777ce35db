"""What the traveler of a packet says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from shopflow.floor.models import FloorCopy, Packet
from shopflow.inspection.limits import limits_of
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Characteristic, Job, Step
from shopflow.papers.codes import qr_svg
from shopflow.papers.pictures import Picture, pictures_for
from shopflow.people.models import ShopSettings
from shopflow.records import ledger
from shopflow.records.models import ChainHead

MOST_PIECES_A_SHEET = 10
"""Columns of the inspection sheet: ten pieces a row."""


@dataclass(frozen=True)
class Line:
    """One op of the routing as printed. stop_before: a person turns the part between this op and the one before."""

    step: Step
    copy: FloorCopy | None
    url: str
    code: SafeString
    stop_before: bool


@dataclass(frozen=True)
class Measured:
    characteristic: Characteristic
    limits: str


def context_of(packet: Packet) -> dict[str, Any]:
    """Everything that papers/traveler.html prints, read in one go."""
    job = packet.job
    steps = list(
        job.steps.select_related("setup__machine").prefetch_related("setup__setup_tools__tool", "setup__touches")
    )
    copies = list(packet.floor_copies.select_related("stored", "sign_off", "revision__program"))
    lines = _lines(packet, steps, copies)
    return {
        "shop": ShopSettings.objects.first(),
        "packet": packet,
        "job": job,
        "lines": lines,
        "setups": _with_pictures(job, [line for line in lines if line.step.setup_id]),
        "code": qr_svg(_address("workflow:job", job.pk)),
        "reading": jobs.reading_of(job),
        "deburr": [line for line in lines if line.step.kind == Step.Kind.DEBURR],
        "inspections": [(line, _measured(line.step)) for line in lines if line.step.kind == Step.Kind.INSPECT],
        "pieces": range(1, min(job.quantity, MOST_PIECES_A_SHEET) + 1),
        "head": head_line(ledger.head(job.chain)),
        "printed_at": timezone.now(),
        "site": settings.SITE_URL,
        "cautions": cautions(job.material.caution if job.material else ""),
    }


def head_line(head: ChainHead) -> str:
    """The end of the job's chain, in the form that `verify_records --against` reads back."""
    return f"{head.chain} {head.seq} {head.hash}"


def _address(name: str, *args: int) -> str:
    return f"{settings.SITE_URL}{reverse(name, args=args)}"


def _lines(packet: Packet, steps: list[Step], copies: list[FloorCopy]) -> list[Line]:
    by_setup = {pk: copy for copy in copies for pk in copy.revision.program.setups.values_list("pk", flat=True)}
    found: list[Line] = []
    for step in steps:
        url = _address("floor:scan", packet.pk, step.pk)
        turns = bool(found) and step.kind == Step.Kind.MILL and found[-1].step.kind == Step.Kind.MILL
        copy = by_setup.get(step.setup_id) if step.setup_id else None
        found.append(Line(step, copy, url, qr_svg(url), turns))
    return found


def _with_pictures(job: Job, lines: list[Line]) -> list[tuple[Line, Picture]]:
    ups = [line.step.setup.up for line in lines if line.step.setup]
    pictures = pictures_for(job, list(dict.fromkeys(ups))) if ups else {}
    return [(line, pictures[up]) for line, up in zip(lines, ups, strict=True)]


def _measured(step: Step) -> list[Measured]:
    rows = step.characteristics.select_related("gauge").order_by("number")
    return [Measured(row, str(limits_of(row))) for row in rows]


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
