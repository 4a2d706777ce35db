"""Findings about drilling."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from shopflow.core.review.finding import Finding, Subject, Weight, by_tool, lines_of
from shopflow.core.types import MotionKind, Tool, ToolMaterial, ToolShape

_SOFT_MATERIALS = (ToolMaterial.HSS, ToolMaterial.COBALT)
_ROUNDING_MM = 1e-6


def plunge_too_deep(subject: Subject) -> Iterator[Finding]:
    """A high-speed-steel drill that goes deep in one feed, in a cycle or by G1, counted from where the feed begins."""
    motions = subject.program.motions
    down = motions.start[:, 2] - motions.end[:, 2]
    straight = (motions.kind == MotionKind.FEED) & (motions.start[:, :2] == motions.end[:, :2]).all(axis=1)
    for number, rows in by_tool(subject.program, np.flatnonzero(straight & motions.start_known[:, 2] & (down > 0.0))):
        tool = (subject.tools or {}).get(number)
        if tool is not None and tool.shape is ToolShape.DRILL and tool.material in _SOFT_MATERIALS:
            yield from _judge(subject, tool, rows, down[rows])


def _judge(subject: Subject, tool: Tool, rows: NDArray[np.intp], depths: NDArray[np.float64]) -> Iterator[Finding]:
    rules, diameter = subject.house_rules, tool.diameter_mm
    for key, weight in (("hss_plunge_most", Weight.MUST_FIX), ("hss_plunge_decide", Weight.DECIDE)):
        limit = float(rules.value(key)) * diameter
        over = depths > limit + _ROUNDING_MM
        if not over.any():
            continue
        deepest = float(depths[over].max())
        message = (
            f"Drill T{tool.number} ({tool.name}, {tool.material.value}) plunges {deepest:.2f} mm in one feed, "
            f"{deepest / diameter:.1f} × D; the house rule is {rules.value(key)} × D ({limit:.2f} mm). Counted from "
            "where the feed begins; let it peck (G83)."
        )
        yield Finding(
            "plunge-too-deep", weight, lines_of(subject.program, rows[over]), message, tool=tool.number,
            measured=deepest, limit=limit, unit="mm", basis=rules.basis(key),
        )  # fmt: skip
        return


RULES = (plunge_too_deep,)
