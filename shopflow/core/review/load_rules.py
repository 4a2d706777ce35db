"""Findings about what a cut asks of spindle and tool, from the material that each motion takes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shopflow.core.cutting.power import available_kw
from shopflow.core.review.classing import Doing
from shopflow.core.review.cut import one_cause
from shopflow.core.review.finding import Finding, Subject, Weight, lines_of, sensible
from shopflow.core.stock.loads import Loads
from shopflow.core.types import ToolShape

MUCH_LESS = 0.8
"""A mean rate under this share of the largest is told beside it (our choice)."""

_MILLS = (Doing.ROUGH, Doing.WALL, Doing.FLOOR, Doing.FACE, Doing.HELICAL, Doing.SURFACE, Doing.RAMP)


def too_much_power(subject: Subject) -> Iterator[Finding]:
    """A slot of 20 × 20 mm in steel at 1 m/min asks 18 kW of a spindle that has 7.5."""
    if subject.cut is None or subject.cut.loads is None or subject.machine is None or subject.machine.power_kw <= 0.0:
        return
    loads, rules = subject.cut.loads, subject.house_rules
    limit = rules.limit("power_share")
    over = np.nan_to_num(loads.power_share) > limit
    for rows in one_cause(np.flatnonzero(over), subject.program.motions.tool):
        worst = rows[loads.power_share[rows].argmax()]
        tool, rpm = int(subject.program.motions.tool[worst]), float(subject.program.motions.rpm[worst])
        most, have = float(loads.power_kw[worst]), float(available_kw(subject.machine, rpm)) * limit
        at = f" at {rpm:.0f} rpm" if subject.machine.power_curve else ""
        message = (
            f"T{tool} takes up to {float(loads.rate_cm3_min[worst]):.0f} cm³/min, which asks {most:.1f} kW; "
            f"{limit:.0%} of the spindle is {have:.1f} kW{at}.{_on_the_mean(loads, worst)}"
        )
        yield Finding(
            "too-much-power", Weight.DECIDE, lines_of(subject.program, rows), message, tool=tool,
            measured=sensible(most), limit=sensible(have), unit="kW",
            basis=f"{rules.basis('power_share')}; machine {subject.machine.name}",
        )  # fmt: skip


def _on_the_mean(loads: Loads, row: int) -> str:
    """What the whole motion takes, where that is much less than where it takes most."""
    most, mean = float(loads.rate_cm3_min[row]), float(loads.mean_rate_cm3_min[row])
    return f" Over the whole motion it is {mean:.0f} cm³/min on the mean." if mean < MUCH_LESS * most else ""


def bends(subject: Subject) -> Iterator[Finding]:
    """A 3 mm end mill, 30 mm out of its holder, in a slot: its tip gives way by more than the wall may be off."""
    if subject.cut is None or subject.cut.loads is None:
        return
    loads, motions = subject.cut.loads, subject.program.motions
    for key, doings, word in (
        ("deflection_finish", (Doing.WALL,), "while it finishes a wall"),
        ("deflection_rough", tuple(set(_MILLS) - {Doing.WALL}), "in this cut"),
    ):
        limit = subject.house_rules.limit(key)
        over = np.isin(subject.doing, doings) & (np.nan_to_num(loads.deflection_mm) > limit)
        for rows in one_cause(np.flatnonzero(over), motions.tool):
            tool, most = int(motions.tool[rows[0]]), sensible(float(loads.deflection_mm[rows].max()))
            message = f"T{tool} gives way by about {most:.2f} mm {word}; the house rule is {limit:g} mm."
            yield Finding(
                "tool-bends", Weight.DECIDE, lines_of(subject.program, rows), message, tool=tool,
                measured=most, limit=limit, unit="mm", basis=subject.house_rules.basis(key),
            )  # fmt: skip


_MILL_SHAPES = frozenset({ToolShape.FLAT, ToolShape.BALL, ToolShape.BULL})


def stands_far_out(subject: Subject) -> Iterator[Finding]:
    """A 6 mm end mill 60 mm out of its holder."""
    if subject.cut is None:
        return
    limit, motions = subject.house_rules.limit("mill_reach"), subject.program.motions
    for number, tool in (subject.tools or {}).items():
        rows = np.flatnonzero((motions.tool == number) & (subject.doing > Doing.AIR))
        if len(rows) and tool.shape in _MILL_SHAPES and tool.stickout_mm > limit * tool.diameter_mm:
            out = sensible(tool.stickout_mm / tool.diameter_mm)
            message = f"T{number} stands {tool.stickout_mm:.0f} mm out of its holder, {out:.1f} × D."
            yield Finding(
                "stands-far-out", Weight.NOTE, lines_of(subject.program, rows[:1]), message, tool=number,
                measured=out, limit=limit, unit="× D", basis=subject.house_rules.basis("mill_reach"),
            )  # fmt: skip


def lengths_not_known(subject: Subject) -> Iterator[Finding]:
    """Without length of cut and stickout nobody can tell whether shank or holder rub."""
    if subject.cut is None:
        return
    motions = subject.program.motions
    for number, tool in (subject.tools or {}).items():
        rows = np.flatnonzero((motions.tool == number) & (subject.doing > Doing.AIR))
        lacks = [
            word
            for word, known in (
                ("length of cut", tool.flute_length_mm), ("stickout", tool.stickout_mm), ("holder", tool.holder),
            )
            if not known
        ]  # fmt: skip
        if len(rows) and lacks:
            message = f"T{number}: the crib has no {' and no '.join(lacks)}; contact above the edges was not looked at."
            lines = lines_of(subject.program, rows[:1])
            yield Finding("lengths-not-known", Weight.NOTE, lines, message, tool=number, basis=f"crib, tool {number}")


RULES = (too_much_power, bends, stands_far_out, lengths_not_known)
