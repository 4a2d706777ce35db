"""Angles set with gauge blocks under a sine bar."""

from __future__ import annotations

from math import radians, sin

from shopflow.core.planning.rules import PlanRules

SURE_TO_DEG = 45.0
"""Over it, a thousandth of the blocks is too much of an angle (common practice, no source)."""


def gauge_blocks_mm(bar_mm: float, angle_deg: float) -> float:
    """Height of the blocks under one roll of a sine bar, mm: H = L sin(angle). bar_mm: between its rolls."""
    return bar_mm * sin(radians(abs(angle_deg)))


def blocks_high(angle_deg: float, rules: PlanRules) -> str:
    """In words, as fine as gauge blocks are."""
    high = gauge_blocks_mm(rules.sine_bar_mm, angle_deg)
    return f"{high / 25.4:.5f} in" if rules.unit == "in" else f"{high:.3f} mm"


def blocks_words(angle_deg: float, rules: PlanRules) -> str:
    """As "50.000 mm of gauge blocks under a 100 mm sine bar"."""
    return f"{blocks_high(angle_deg, rules)} of gauge blocks under a {rules.say(rules.sine_bar_mm)} sine bar"
