"""Findings about coolant. Whether a tool should cut dry is the shop's to say: this only sees what stands out."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.review.finding import Finding, Subject, Weight, by_tool, lines_of
from shopflow.core.types import MotionKind, ToolShape


def cuts_dry(subject: Subject) -> Iterator[Finding]:
    """A tool that never has coolant while another of the same program has it: mostly a line that was forgotten."""
    motions = subject.program.motions
    feeding = (motions.kind == MotionKind.FEED) | (motions.kind == MotionKind.ARC)
    if not (feeding & (motions.coolant != 0)).any():
        return
    for tool, rows in by_tool(subject.program, np.flatnonzero(feeding & (motions.tool != 0))):
        known = (subject.tools or {}).get(tool)
        if motions.coolant[rows].any() or (known is not None and known.shape is ToolShape.PROBE):
            continue
        message = f"T{tool} cuts without coolant from line {motions.line[rows[0]]} on; other tools here have it."
        basis = "common practice, no source"
        yield Finding("cuts-dry", Weight.DECIDE, lines_of(subject.program, rows[:1]), message, tool=tool, basis=basis)


RULES = (cuts_dry,)
