"""Findings about how far the machine can go and where the program works."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.nc import offset_number
from shopflow.core.nc.extent import arc_extent
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of


def travel_over_machine(subject: Subject) -> Iterator[Finding]:
    """Where a work offset lies on the table is not known here, so what is checked is the span within one offset."""
    if subject.machine is None:
        return
    motions, machine = subject.program.motions, subject.machine
    for offset in np.unique(motions.work_offset[motions.work_offset != 0]):
        extent = arc_extent(motions, subject.program.end_known, work_offset=int(offset))
        if extent is None:
            continue
        for axis, letter in enumerate("XYZ"):
            span, limit = extent.high[axis] - extent.low[axis], machine.travel_mm[axis]
            if span > limit:
                message = f"The program moves {span:.1f} mm in {letter}; the machine travels {limit:.1f} mm."
                yield Finding(
                    "travel-over-machine", Weight.MUST_FIX, _farthest(subject, int(offset), axis), message,
                    measured=span, limit=limit, unit="mm", basis=f"machine {machine.name}",
                )  # fmt: skip


def _farthest(subject: Subject, offset: int, axis: int) -> tuple[int, ...]:
    """The lines that end lowest and highest along an axis."""
    motions = subject.program.motions
    rows = np.flatnonzero((motions.work_offset == offset) & subject.program.end_known[:, axis])
    places = motions.end[rows, axis]
    return lines_of(subject.program, np.unique(rows[[int(places.argmin()), int(places.argmax())]]))


def offset_not_planned(subject: Subject) -> Iterator[Finding]:
    if subject.plan is None or not subject.plan.work_offsets:
        return
    motions = subject.program.motions
    planned = subject.plan.work_offsets
    for name in subject.program.work_offsets:
        if name not in planned:
            rows = np.flatnonzero(motions.work_offset == offset_number(name))
            message = f"The program works in {name}; the plan has {', '.join(planned)}."
            lines = lines_of(subject.program, rows[:1])
            yield Finding("offset-not-planned", Weight.MUST_FIX, lines, message, basis="the plan's work offsets")


def offset_not_used(subject: Subject) -> Iterator[Finding]:
    if subject.plan is None:
        return
    for name in subject.plan.work_offsets:
        if name not in subject.program.work_offsets:
            message = f"The plan has a setup in {name}; the program never works there."
            yield Finding("offset-not-used", Weight.DECIDE, (1,), message, basis="the plan's work offsets")


RULES = (travel_over_machine, offset_not_planned, offset_not_used)
