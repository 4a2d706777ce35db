"""How long the shop takes by hand: what a plan's minutes count with, as data. None of it changes a cut."""

from __future__ import annotations

from decimal import Decimal

from shopflow.core.review.limits import HouseRule

PRACTICE = "common practice, no source: time it once and put your own here"


def _habit(key: str, title: str, value: str, unit: str = "min") -> HouseRule:
    return HouseRule(key=key, title=title, value=Decimal(value), unit=unit, basis=PRACTICE)


MINUTES: tuple[HouseRule, ...] = (
    _habit("minutes_vise", "Setting and indicating a vise takes", "20"),
    _habit("minutes_clamps", "Setting clamps takes", "40"),
    _habit("minutes_clear", "Clearing the table for a fixture takes", "10"),
    _habit("minutes_fixture", "Mounting and indicating a fixture takes", "15"),
    _habit("minutes_jaws", "Mounting soft jaws takes", "5"),
    _habit("minutes_jaws_cut", "Cutting new soft jaws takes", "15"),
    _habit("minutes_jaws_recut", "Cutting soft jaws true again takes", "6"),
    _habit("minutes_tilt", "Tilting a part and indicating its angle takes", "15"),
    _habit("minutes_tool", "Setting and measuring a tool takes", "2"),
    _habit("minutes_load_vise", "Changing a piece for the next takes, in a vise", "1"),
    _habit("minutes_load_clamps", "Changing a piece for the next takes, under clamps", "4"),
    _habit("minutes_load_fixture", "Changing a piece for the next takes, in a fixture", "2"),
    _habit("minutes_saw", "The saw takes for each blank, besides the cut itself", "1"),
    _habit("minutes_saw_rate", "The saw cuts a minute", "25", "cm²"),
    _habit("minutes_deburr", "Taking a piece in hand to deburr it takes", "0.5"),
    _habit("minutes_deburr_rate", "Hands break a minute, of sharp edge", "600", "mm"),
    _habit("minutes_inspect", "Taking a piece in hand to inspect it takes", "1"),
    _habit("minutes_measurement", "A measurement takes", "0.5"),
)
RATES = frozenset({"minutes_saw_rate", "minutes_deburr_rate"})
"""How much is done in a minute, which is more than nothing."""
