"""Findings about how far the machine can go and where the program works."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.nc import offset_number
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of


def travel_over_machine(subject: Subject) -> Iterator[Finding]:
    """Where a work offset lies on the table is not known here, so what is checked is the span within one offset."""
    if subject.machine is None:
        return
    motions = subject.program.motions
    for offset in np.unique(motions.work_offset[motions.work_offset != 0]):
        here = motions.work_offset == offset
        for axis, letter in enumerate("XYZ"):
            rows = np.flatnonzero(here & subject.program.end_known[:, axis])
            if not len(rows):
                continue
            places = motions.end[rows, axis]
            span, limit = float(np.ptp(places)), subject.machine.travel_mm[axis]
            if span <= limit:
                continue
            ends = rows[[int(places.argmin()), int(places.argmax())]]
            message = f"The program moves {span:.1f} mm in {letter}; the machine travels {limit:.1f} mm."
            yield Finding(
                "travel-over-machine", Weight.MUST_FIX, lines_of(subject.program, np.sort(ends)), message,
                measured=span, limit=limit, unit="mm", basis=f"machine {subject.machine.name}",
            )  # fmt: skip


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
