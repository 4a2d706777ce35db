"""Findings about drilling."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from shopflow.core.review.finding import Finding, Subject, Weight, by_tool, lines_of
from shopflow.core.review.places import earlier_here, straight_down
from shopflow.core.types import MotionKind, Tool, ToolShape

_ROUNDING_MM = 1e-6


def plunge_too_deep(subject: Subject) -> Iterator[Finding]:
    """A high-speed-steel drill that goes deep in one feed, in a cycle or by G1, counted from where the feed begins.

    Where the material is known, `hole_rules` counts that instead.
    """
    if subject.simulated:
        return
    motions = subject.program.motions
    down = motions.start[:, 2] - motions.end[:, 2]
    known = straight_down(motions) & motions.start_known[:, 2]
    for number, rows in by_tool(subject.program, np.flatnonzero(known)):
        tool = subject.tool(number)
        if tool is not None and tool.shape is ToolShape.DRILL and tool.material.is_high_speed_steel:
            yield from judged(subject, tool, rows, down[rows], "Counted from where the feed begins")


def judged(
    subject: Subject, tool: Tool, rows: NDArray[np.intp], depths: NDArray[np.float64], counted: str
) -> Iterator[Finding]:
    """Depths of single plunges against the house rules. counted: how, as the message says it."""
    rules, diameter = subject.house_rules, tool.diameter_mm
    for key, weight in (("hss_plunge_most", Weight.MUST_FIX), ("hss_plunge_decide", Weight.DECIDE)):
        limit = rules.limit(key) * diameter
        over = depths > limit + _ROUNDING_MM
        if not over.any():
            continue
        deepest = float(depths[over].max())
        message = (
            f"Drill T{tool.number} ({tool.name}, {tool.material.value}) plunges {deepest:.2f} mm in one feed, "
            f"{deepest / diameter:.1f} × D; the house rule is {rules.value(key)} × D ({limit:.2f} mm). {counted}; "
            "let it peck (G83)."
        )
        yield Finding(
            "plunge-too-deep", weight, lines_of(subject.program, rows[over]), message, tool=tool.number,
            measured=deepest, limit=limit, unit="mm", basis=rules.basis(key),
        )  # fmt: skip
        return


_BY_FULL_RETRACT = 83


def carbide_full_retract(subject: Subject) -> Iterator[Finding]:
    """G83 with a carbide drill: each time it comes back its corners meet the bottom; chip breaking (G73) is kinder."""
    motions = subject.program.motions
    pecked = (motions.cycle == _BY_FULL_RETRACT) & (motions.kind == MotionKind.FEED)
    for number, rows in by_tool(subject.program, np.flatnonzero(pecked)):
        tool = subject.tool(number)
        if tool is None or tool.shape is not ToolShape.DRILL or tool.material.is_high_speed_steel:
            continue
        places = np.unique(np.round(motions.end[rows, :2], 2), axis=0)
        if len(rows) > len(places):
            message = (
                f"Carbide drill T{number} comes all the way out at each peck (G83); G73, or one feed, wears it less."
            )
            lines, basis = lines_of(subject.program, rows), "common practice, no source"
            yield Finding("carbide-full-retract", Weight.DECIDE, lines, message, tool=number, basis=basis)


def spot_for_drill(subject: Subject) -> Iterator[Finding]:
    """A 90° spot under a 140° carbide drill: its corners meet the cone first and chip."""
    plunges = straight_down(subject.program.motions)
    for number, rows in by_tool(subject.program, np.flatnonzero(plunges)):
        tool = subject.tool(number)
        if tool is None or tool.shape is not ToolShape.DRILL:
            continue
        first = (
            _spotted(subject, tool, row, before(subject, plunges, row)) for row in first_of_each_place(subject, rows)
        )
        yield from list(filter(None, first))[:1]


def first_of_each_place(subject: Subject, rows: NDArray[np.intp]) -> list[int]:
    """The first of the rows at each place, in their order."""
    _, first = np.unique(np.round(subject.program.motions.end[rows, :2], 2), axis=0, return_index=True)
    return [int(row) for row in rows[np.sort(first)]]


def before(subject: Subject, plunges: NDArray[np.bool_], row: int) -> NDArray[np.intp]:
    """Plunges of other tools at this place before."""
    motions = subject.program.motions
    here = earlier_here(motions, plunges, row)
    other: NDArray[np.intp] = here[motions.tool[here] != motions.tool[row]]
    return other


def _spotted(subject: Subject, tool: Tool, row: int, earlier: NDArray[np.intp]) -> Finding | None:
    if not len(earlier):
        return None
    first = subject.tool(int(subject.program.motions.tool[earlier[-1]]))
    if first is None or first.shape is not ToolShape.SPOT or first.point_angle_deg >= tool.point_angle_deg - 0.5:
        return None
    message = (
        f"T{first.number} spots with {first.point_angle_deg:g}° for T{tool.number}, whose point has "
        f"{tool.point_angle_deg:g}°: its corners meet the cone before its middle does."
    )
    weight = Weight.NOTE if tool.material.is_high_speed_steel else Weight.DECIDE
    return Finding(
        "spot-too-narrow", weight, lines_of(subject.program, np.array([row])), message, tool=tool.number,
        measured=first.point_angle_deg, limit=tool.point_angle_deg, unit="°", basis="common practice, no source",
    )  # fmt: skip


RULES = (plunge_too_deep, carbide_full_retract, spot_for_drill)
