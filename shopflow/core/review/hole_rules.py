"""Findings about holes that need to know the material: how deep is really drilled, and what lies below."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.cutting.groups import group_of
from shopflow.core.cutting.pecking import WORK_HARDENS
from shopflow.core.review.drilling_rules import before, first_of_each_place, judged
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of, sensible
from shopflow.core.review.places import straight_down
from shopflow.core.review.tapping_rules import point_mm
from shopflow.core.types import Coolant, Tool, ToolShape

Rows = NDArray[np.intp]
Floats = NDArray[np.float64]

_OPEN_SHARE = 0.8
"""A plunge that takes less than this share of its own cylinder goes through a hole that is there already."""


@dataclass(frozen=True)
class _Drilled:
    """The plunges of one drill. material_mm: (n,) depth of material of each; hole: (n,) number of its place."""

    tool: Tool
    rows: Rows
    material_mm: Floats
    hole: NDArray[np.intp]

    def totals(self) -> Floats:
        """(holes,) mm of material in each place."""
        return np.bincount(self.hole, weights=self.material_mm).astype(np.float64)


def _drills(subject: Subject) -> Iterator[_Drilled]:
    if subject.cut is None:
        return
    motions, removal = subject.program.motions, subject.cut.removal
    for number, tool in (subject.tools or {}).items():
        if tool.shape is not ToolShape.DRILL:
            continue
        rows = np.flatnonzero((motions.tool == number) & (removal.plunge_mm > 0.0) & (motions.kind != 0))
        if not len(rows):
            continue
        deep = removal.plunge_mm[rows]
        full = removal.volume_mm3[rows] / (np.pi / 4.0 * tool.diameter_mm**2)
        _, hole = np.unique(np.round(motions.end[rows, :2], 2), axis=0, return_inverse=True)
        yield _Drilled(tool, rows, np.where(full < _OPEN_SHARE * deep, np.minimum(full, deep), deep), hole.ravel())


def drilled_deep_in_one(subject: Subject) -> Iterator[Finding]:
    """A 5 mm high-speed-steel drill through 34 mm in one feed; the way through air and a pilot hole does not count."""
    for drilled in _drills(subject):
        if drilled.tool.material.is_high_speed_steel:
            yield from judged(subject, drilled.tool, drilled.rows, drilled.material_mm, "Counted in material")


def carbide_deep_dry(subject: Subject) -> Iterator[Finding]:
    """An 8 mm carbide drill 50 mm deep with flood only: chips pack where no coolant comes through the drill."""
    rules, machine, motions = subject.house_rules, subject.machine, subject.program.motions
    limit = rules.limit("carbide_dry_depth")
    for drilled in _drills(subject):
        tool, totals = drilled.tool, drilled.totals()
        through = (motions.coolant[drilled.rows] & Coolant.THROUGH) != 0
        deep = (totals[drilled.hole] > limit * tool.diameter_mm + 1e-6) & ~through
        if tool.material.is_high_speed_steel or not deep.any():
            continue
        most = float(totals[drilled.hole[deep]].max())
        can = tool.through_coolant and (machine is None or machine.through_coolant)
        mend = "switch it on" if can else "this drill or machine has none; go slower, or peck and watch the chips"
        message = (
            f"Carbide drill T{tool.number} goes {most:.1f} mm deep, {most / tool.diameter_mm:.1f} × D, without coolant "
            f"through it: {mend}."
        )
        yield Finding(
            "carbide-drill-dry", Weight.DECIDE, lines_of(subject.program, drilled.rows[deep]), message,
            tool=tool.number, measured=sensible(most / tool.diameter_mm), limit=limit, unit="× D",
            basis=rules.basis("carbide_dry_depth"),
        )  # fmt: skip


def pecks_small(subject: Subject) -> Iterator[Finding]:
    """Pecks of 1 mm with a 6 mm drill in stainless: each one rubs the bottom hard for the next."""
    material = subject.material
    if material is None or group_of(material.group, material.name) not in WORK_HARDENS:
        return
    share = subject.house_rules.limit("peck_least_hard")
    for drilled in _drills(subject):
        rows, tool = drilled.rows, drilled.tool
        pecked = np.isin(subject.program.motions.cycle[rows], (73, 83))
        if pecked.sum() < 3:
            continue
        usual = float(np.median(drilled.material_mm[pecked]))
        limit = share * tool.diameter_mm
        if usual < limit:
            message = (
                f"T{tool.number} pecks {usual:.2f} mm at a time; {material.name} hardens where a drill rubs: fewer and "
                f"larger pecks, {limit:.2f} mm or more."
            )
            yield Finding(
                "pecks-small", Weight.DECIDE, lines_of(subject.program, rows[pecked]), message, tool=tool.number,
                measured=sensible(usual), limit=sensible(limit), unit="mm",
                basis=subject.house_rules.basis("peck_least_hard"),
            )  # fmt: skip


def through_the_bottom(subject: Subject) -> Iterator[Finding]:
    """A drill comes out below the stock: what lies there, where the plan does not say, and how far."""
    if subject.cut is None:
        return
    limit, motions = subject.house_rules.limit("through_most"), subject.program.motions
    bottom = subject.cut.raw_bottom_mm
    for drilled in _drills(subject):
        rows = drilled.rows
        below = bottom - motions.end[rows, 2]
        full = below - point_mm(drilled.tool)
        far, number = rows[full > limit], drilled.tool.number
        if len(far):
            most = sensible(float(full.max()))
            message = (
                f"Drill T{number} goes {most:.1f} mm below the stock at its full width; the house rule is {limit:g} mm."
            )
            yield Finding(
                "drills-far-below", Weight.DECIDE, lines_of(subject.program, far), message, tool=number,
                measured=most, limit=limit, unit="mm", basis=subject.house_rules.basis("through_most"),
            )  # fmt: skip
        elif (below > 0.5).any() and not subject.cut.holding:
            message = (
                f"Drill T{number} comes out {float(below.max()):.1f} mm below the stock, and the plan does not say "
                "what lies there: jaws, parallels, table."
            )
            lines = lines_of(subject.program, rows[below > 0.5])
            basis = "the plan has no workholding drawn"
            yield Finding("below-not-known", Weight.NOTE, lines, message, tool=number, basis=basis)


def not_spotted(subject: Subject) -> Iterator[Finding]:
    """A high-speed-steel drill that nothing was spotted or drilled for may wander. No spot is asked for carbide."""
    plunges = straight_down(subject.program.motions)
    for drilled in _drills(subject):
        tool = drilled.tool
        if not tool.material.is_high_speed_steel:
            continue
        bare = [row for row in first_of_each_place(subject, drilled.rows) if not len(before(subject, plunges, row))]
        if bare:
            message = f"Nothing was spotted or drilled for T{tool.number} ({tool.name}): it may wander as it starts."
            lines, basis = lines_of(subject.program, np.array(bare)), "common practice, no source"
            yield Finding("not-spotted", Weight.NOTE, lines, message, tool=tool.number, basis=basis)


RULES = (not_spotted, drilled_deep_in_one, carbide_deep_dry, pecks_small, through_the_bottom)
