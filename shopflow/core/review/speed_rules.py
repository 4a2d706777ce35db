"""Findings about surface speed, feed a tooth or a turn, plunges and ramps.

Published windows disagree, so that what lies outside one is a note. Where the shop has numbers of its own for the tool,
material and use, it is asked about.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.core.cutting import engagement
from shopflow.core.cutting.choosing import Pick, chosen_window
from shopflow.core.cutting.data import MOST_THINNING, Cut, Per, Suggestion, suggest
from shopflow.core.review.classing import USE_OF, Doing
from shopflow.core.review.finding import Finding, Subject, Weight, by_tool, lines_of, sensible
from shopflow.core.types import Tool, ToolShape, ToolUse

Rows = NDArray[np.intp]
Floats = NDArray[np.float64]

_HALF = 0.5
"""A feed under the window counts where most of a tool's way has it, or where it is under half of the window."""


@dataclass(frozen=True)
class _Work:
    """Rows that one tool spends on one use, and what the tables say of it."""

    tool: Tool
    use: ToolUse
    rows: Rows
    suggestion: Suggestion
    thinnest: float
    """Smallest diameter in the cut, mm."""


def _works(subject: Subject) -> Iterator[_Work]:
    """Each tool with each use, where the material is known."""
    if subject.cut is None or subject.material is None:
        return
    removal, motions = subject.cut.removal, subject.program.motions
    for number, tool in (subject.tools or {}).items():
        mine = (motions.tool == number) & (motions.rpm > 0.0) & (motions.spindle != 0)
        for doing in np.unique(subject.doing[mine]).tolist():
            use = USE_OF.get(Doing(doing))
            if use is None:
                continue
            rows = np.flatnonzero(mine & (subject.doing == doing))
            made = suggest(subject.material, tool, use, subject.machine, own=subject.own_data)
            if made is not None:
                # A point that runs deeper for a chamfer still cuts with its widest place.
                widths = engagement.diameter_in_cut(tool, removal.axial_mm[rows])
                yield _Work(tool, use, rows, made, max(float(widths.max()), 0.1 * tool.diameter_mm))


def speed_outside(subject: Subject) -> Iterator[Finding]:
    """T2, 10 mm carbide in 1018, at S25000 is 785 m/min where tables end at 300; never "too slow" at a limit of spindle
    or tool."""
    reach = 1.0 + subject.house_rules.limit("speed_reach")
    for work in _works(subject):
        rpm = subject.program.motions.rpm[work.rows]
        in_cut = suggest(
            subject.material, work.tool, work.use, subject.machine, own=subject.own_data,
            cut=Cut(axial_mm=_axial_for(work)),
        )  # fmt: skip
        fastest = in_cut.rpm_window.high if in_cut else work.suggestion.rpm_window.high
        slowest = work.suggestion.rpm_window.low
        for rows, word, limit in (
            (work.rows[rpm > fastest * reach], "fast", fastest),
            (work.rows[rpm < slowest / reach], "slow", slowest),
        ):
            if len(rows):
                yield _speed(subject, work, rows, word, limit)


def _axial_for(work: _Work) -> float:
    """Depth at which a ball or a point cuts with the width that was seen; 0 for all others."""
    tool, width = work.tool, work.thinnest
    if tool.shape is ToolShape.BALL and width < tool.diameter_mm:
        return (tool.diameter_mm - math.sqrt(tool.diameter_mm**2 - width**2)) / 2.0
    if tool.shape is ToolShape.CHAMFER and tool.point_angle_deg < 180.0:
        return (width - tool.tip_diameter_mm) / 2.0 / math.tan(math.radians(tool.point_angle_deg) / 2.0)
    return 0.0


def _speed(subject: Subject, work: _Work, rows: Rows, word: str, limit: float) -> Finding:
    rpm = subject.program.motions.rpm[rows]
    most = float(rpm.max() if word == "fast" else rpm.min())
    width = work.thinnest if word == "fast" else work.tool.diameter_mm
    speed, edge = (math.pi * width * turning / 1000.0 for turning in (most, limit))
    message = (
        f"T{work.tool.number} turns at S{most:.0f} for “{work.use.value}”: {speed:.0f} m/min at {width:.1f} mm, "
        f"too {word} against {edge:.0f} m/min (S{limit:.0f})."
    )
    weight, basis = _weight(subject, work, lambda row: row.speed_m_min), work.suggestion.speed_m_min.source
    return Finding(
        f"too-{word}", weight, lines_of(subject.program, rows), message, tool=work.tool.number,
        measured=sensible(speed), limit=sensible(edge), unit="m/min", basis=basis,
    )  # fmt: skip


def _weight(subject: Subject, work: _Work, pick: Pick) -> Weight:
    """A question where the shop has numbers of its own for this."""
    own = chosen_window(subject.own_data, pick, subject.material, work.tool, work.use)
    return Weight.NOTE if own is None else Weight.DECIDE


def feed_outside(subject: Subject) -> Iterator[Finding]:
    """T2 at F9000 and S6000 feeds 0.5 mm a tooth where tables end at 0.1, thin chips counted."""
    if subject.cut is None:
        return
    reach = 1.0 + subject.house_rules.limit("speed_reach")
    for work in _works(subject):
        if work.suggestion.per is Per.PITCH:
            continue
        fed = _fed(subject, work)
        most = work.suggestion.feed_mm.high * _thinned(subject, work)
        high = fed > most * reach
        if high.any():
            at = int(np.argmax(np.where(high, fed / most, 0.0)))
            yield _feed(subject, work, work.rows[high], float(fed[at]), float(most[at]), "fast")
        least = work.suggestion.feed_mm.low
        low = fed < least / reach
        if low.any() and (low.mean() > _HALF or (fed < least * _HALF).any()):
            yield _feed(subject, work, work.rows[low], float(fed[low].min()), least, "slow")


def _fed(subject: Subject, work: _Work) -> Floats:
    """mm a tooth, or a turn where the tool works along the spindle."""
    motions = subject.program.motions
    teeth = max(work.tool.flutes, 1) if work.suggestion.per is Per.TOOTH else 1
    return engagement.tooth_feed(motions.feed_mm_min[work.rows], motions.rpm[work.rows], teeth)


def _thinned(subject: Subject, work: _Work) -> Floats:
    assert subject.cut is not None
    if work.suggestion.per is not Per.TOOTH:
        return np.ones(len(work.rows))
    wide = np.minimum(subject.cut.removal.radial_mm[work.rows], work.tool.diameter_mm)
    sideways = engagement.thinning_factor(wide, work.tool.diameter_mm)
    upwards = work.tool.diameter_mm / work.thinnest if work.tool.shape is ToolShape.BALL else 1.0
    thinned: Floats = np.clip(np.nan_to_num(sideways, posinf=MOST_THINNING) * upwards, 1.0, MOST_THINNING)
    return thinned


def _feed(subject: Subject, work: _Work, rows: Rows, fed: float, limit: float, word: str) -> Finding:
    over = "more" if word == "fast" else "less"
    message = (
        f"T{work.tool.number} feeds {fed:.3f} mm a {work.suggestion.per.value} for “{work.use.value}”, {over} than "
        f"{limit:.3f} mm."
    )
    return Finding(
        f"feeds-too-{word}", _weight(subject, work, lambda row: row.feed_mm), lines_of(subject.program, rows), message,
        tool=work.tool.number, measured=sensible(fed), limit=sensible(limit), unit="mm",
        basis=work.suggestion.feed_mm.source,
    )  # fmt: skip


_MET_MM = 0.05


def plunge_feed(subject: Subject) -> Iterator[Finding]:
    """An end mill goes straight down into material at the feed that it has sideways."""
    if subject.cut is None or subject.material is None:
        return
    share = subject.house_rules.limit("plunge_feed_share")
    motions, removal = subject.program.motions, subject.cut.removal
    down = (subject.doing == Doing.PLUNGE) & (removal.plunge_mm > _MET_MM) & (motions.rpm > 0.0)
    for number, rows in by_tool(subject.program, np.flatnonzero(down)):
        tool = (subject.tools or {})[number]
        made = suggest(subject.material, tool, ToolUse.ROUGH, subject.machine, own=subject.own_data)
        if made is None:
            continue
        limit = made.feed_mm.high * share
        fed = engagement.tooth_feed(motions.feed_mm_min[rows], motions.rpm[rows], max(tool.flutes, 1))
        if (fed > limit).any():
            most = float(fed.max())
            message = (
                f"T{number} plunges into material at {most:.3f} mm a tooth; straight down it takes {limit:.3f} mm."
            )
            yield Finding(
                "plunges-too-fast", Weight.DECIDE, lines_of(subject.program, rows[fed > limit]), message, tool=number,
                measured=sensible(most), limit=sensible(limit), unit="mm",
                basis=f"{subject.house_rules.basis('plunge_feed_share')}; {made.feed_mm.source}",
            )  # fmt: skip


def ramp_angle(subject: Subject) -> Iterator[Finding]:
    """A ramp of 20° in steel, or a helix that comes down 6 mm a turn of 4 mm radius."""
    if subject.cut is None:
        return
    limit = subject.house_rules.limit("ramp_most")
    motions = subject.program.motions
    sloping = np.isin(subject.doing, (Doing.RAMP, Doing.HELICAL)) & (motions.end[:, 2] < motions.start[:, 2])
    for number, rows in by_tool(subject.program, np.flatnonzero(sloping)):
        angles = np.degrees(np.arctan2(motions.start[rows, 2] - motions.end[rows, 2], _level_mm(subject, rows)))
        steep = rows[angles > limit + 1e-6]
        if len(steep):
            most = float(angles.max())
            message = f"T{number} goes into material at {most:.1f}°; the house rule is {limit:g}°."
            yield Finding(
                "ramps-too-steep", Weight.DECIDE, lines_of(subject.program, steep), message, tool=number,
                measured=sensible(most), limit=limit, unit="°", basis=subject.house_rules.basis("ramp_most"),
            )  # fmt: skip


def _level_mm(subject: Subject, rows: Rows) -> Floats:
    motions = subject.program.motions
    straight = np.hypot(*(motions.end[rows, :2] - motions.start[rows, :2]).T)
    arm = np.hypot(*(motions.start[rows, :2] - np.nan_to_num(motions.centre[rows, :2])).T)
    level: Floats = np.where(motions.turn_deg[rows] != 0.0, np.radians(np.abs(motions.turn_deg[rows])) * arm, straight)
    return level


RULES = (speed_outside, feed_outside, plunge_feed, ramp_angle)
