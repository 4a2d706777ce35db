"""Findings about tapping: the feed against pitch and speed, the thread against its hole."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from shopflow.core.review.finding import Finding, Subject, Weight, by_tool, lines_of, sensible
from shopflow.core.review.places import earlier_here, straight_down
from shopflow.core.types import MotionKind, Tool, ToolShape


def _taps(subject: Subject) -> Iterator[tuple[Tool, NDArray[np.intp]]]:
    """Each tap with its feeds straight down."""
    for number, rows in by_tool(subject.program, np.flatnonzero(straight_down(subject.program.motions))):
        tool = subject.tool(number)
        if tool is not None and tool.shape is ToolShape.TAP and tool.pitch_mm > 0.0:
            yield tool, rows


def tap_feed(subject: Subject) -> Iterator[Finding]:
    """An M6 tap of 1 mm pitch at S500 feeds 500 mm/min; 450 needs a floating holder that gives, 600 strips."""
    rules, motions = subject.house_rules, subject.program.motions
    rigid, floating = rules.limit("tap_feed_off"), rules.limit("tap_float_most")
    for tool, rows in _taps(subject):
        wanted = tool.pitch_mm * motions.rpm[rows]
        off = np.where(wanted > 0.0, motions.feed_mm_min[rows] / np.where(wanted > 0.0, wanted, 1.0) - 1.0, 0.0)
        wrong = np.abs(off) > rigid + 1e-9
        if not wrong.any():
            continue
        worst = int(np.argmax(np.where(off < 0.0, -off, 2.0 * off) * wrong))
        share, feed, right = float(off[worst]), float(motions.feed_mm_min[rows[worst]]), float(wanted[worst])
        gives = -floating - 1e-9 <= share < 0.0
        how = "right only in a holder that floats" if gives else "neither rigid nor floating tapping allows that"
        message = f"Tap T{tool.number} feeds {feed:.1f} mm/min; pitch × rpm is {right:.1f} ({share:+.1%}): {how}."
        key = "tap_float_most" if gives else "tap_feed_off"
        yield Finding(
            "tap-feed", Weight.DECIDE if gives else Weight.MUST_FIX, lines_of(subject.program, rows[wrong]), message,
            tool=tool.number, measured=sensible(feed), limit=sensible(right), unit="mm/min", basis=rules.basis(key),
        )  # fmt: skip


def tap_depth(subject: Subject) -> Iterator[Finding]:
    """A thread down to the bottom of its hole: the tap's lead needs room, or the tap breaks."""
    rules = subject.house_rules
    for tool, rows in _taps(subject):
        worst: tuple[float, int, float] | None = None
        for row in rows.tolist():
            room = _room_below(subject, row)
            if room is not None and (worst is None or room < worst[0]):
                worst = room, row, float(subject.program.motions.end[row, 2])
        limit = rules.limit("tap_lead_pitches") * tool.pitch_mm
        if worst is None or worst[0] >= limit - 1e-6:
            continue
        room, row, bottom = worst
        message = (
            f"T{tool.number} taps to Z{bottom:.2f}, {abs(room):.2f} mm {'above' if room >= 0 else 'below'} the full "
            f"depth of its hole; {rules.value('tap_lead_pitches')} pitches are {limit:.2f} mm."
        )
        yield Finding(
            "tap-bottoms" if room < 0.0 else "tap-near-bottom", Weight.MUST_FIX if room < 0.0 else Weight.DECIDE,
            lines_of(subject.program, np.array([row])), message, tool=tool.number,
            measured=sensible(room), limit=sensible(limit), unit="mm", basis=rules.basis("tap_lead_pitches"),
        )  # fmt: skip


def _room_below(subject: Subject, row: int) -> float | None:
    """mm between the end of a tap and the full depth of the hole that a drill of this program made, if any."""
    motions, tools = subject.program.motions, subject.tools or {}
    drills = [number for number, tool in tools.items() if tool.shape is ToolShape.DRILL]
    drilled = np.isin(motions.tool, drills) & (motions.kind == MotionKind.FEED)
    made = earlier_here(motions, drilled, row).tolist()
    full = [float(motions.end[one, 2]) + point_mm(tools[int(motions.tool[one])]) for one in made]
    return float(motions.end[row, 2]) - min(full) if full else None


def point_mm(drill: Tool) -> float:
    """Length of a drill's point, which is no full hole: (D/2) / tan(angle/2)."""
    if not 0.0 < drill.point_angle_deg < 180.0:
        return 0.0
    return drill.diameter_mm / 2.0 / math.tan(math.radians(drill.point_angle_deg) / 2.0)


RULES = (tap_feed, tap_depth)
