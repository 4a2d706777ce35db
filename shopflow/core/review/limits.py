"""Limits that findings about cutting are judged by, as data, each with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class HouseRule:
    """One limit. unit: "mm", "× D" or ""; basis: where the default comes from."""

    key: str
    title: str
    value: Decimal
    unit: str
    basis: str


LIMITS: tuple[HouseRule, ...] = (
    HouseRule(
        key="gouge_decide",
        title="A gouge deeper than this needs a decision",
        value=Decimal("0.02"),
        unit="mm",
        basis="common practice, no source: what a finishing pass leaves",
    ),
    HouseRule(
        key="gouge_most",
        title="A gouge deeper than this must be mended",
        value=Decimal("0.05"),
        unit="mm",
        basis="ISO 2768-1, fine: the narrowest linear tolerance is 0.05 mm either way (from memory)",
    ),
    HouseRule(
        key="stock_left_decide",
        title="Stock that nothing removes and that is thicker than this needs a decision",
        value=Decimal("0.05"),
        unit="mm",
        basis="ISO 2768-1, fine: the narrowest linear tolerance is 0.05 mm either way (from memory)",
    ),
    HouseRule(
        key="edge_break",
        title="An edge drawn sharp counts as broken on purpose up to this leg of 45°",
        value=Decimal("0.5"),
        unit="mm",
        basis="common practice, no source: what a pass with a chamfer mill breaks",
    ),
    HouseRule(
        key="rapid_clearance",
        title="A rapid stays at least this far from what is machined already",
        value=Decimal("1"),
        unit="mm",
        basis="common practice, no source",
    ),
    HouseRule(
        key="rapid_clearance_raw",
        title="A rapid stays at least this far over stock as it came",
        value=Decimal("1.5"),
        unit="mm",
        basis="common practice, no source: sawn and cast stock differs from piece to piece",
    ),
    HouseRule(
        key="rapid_clearance_link",
        title="A rapid that stays down between two cuts stays at least this far from what stands beside it",
        value=Decimal("0.5"),
        unit="mm",
        basis="common practice, no source: what stands there was cut by the same program",
    ),
    HouseRule(
        key="rapid_clearance_holding",
        title="A rapid stays at least this far from workholding",
        value=Decimal("1"),
        unit="mm",
        basis="common practice, no source",
    ),
    HouseRule(
        key="touch_ignored",
        title="Contact of shank, neck or holder shallower than this is not counted",
        value=Decimal("0.01"),
        unit="mm",
        basis="common practice, no source: less than runout",
    ),
)
"""What the removal of material is judged by."""

REVIEW_LIMITS: tuple[HouseRule, ...] = (
    HouseRule(
        key="speed_reach",
        title="A surface speed or feed may leave its window by this share before it is mentioned",
        value=Decimal("0.1"),
        unit="",
        basis="common practice, no source: published windows disagree by two to five times",
    ),
    HouseRule(
        key="plunge_feed_share",
        title="An end mill plunges into material with at most this share of the highest feed a tooth",
        value=Decimal("0.5"),
        unit="",
        basis="common practice, no source: half of the feed sideways",
    ),
    HouseRule(
        key="ramp_most",
        title="A ramp or helix into material is no steeper than this",
        value=Decimal("10"),
        unit="°",
        basis="common practice, no source: 2 to 10 degrees for solid end mills",
    ),
    HouseRule(
        key="power_share",
        title="A cut takes at most this share of the spindle's power",
        value=Decimal("0.9"),
        unit="",
        basis="common practice, no source: room for a dull edge",
    ),
    HouseRule(
        key="deflection_rough",
        title="A tool bends no more than this while it roughs",
        value=Decimal("0.15"),
        unit="mm",
        basis="common practice, no source",
    ),
    HouseRule(
        key="deflection_finish",
        title="A tool bends no more than this while it finishes a wall",
        value=Decimal("0.05"),
        unit="mm",
        basis="ISO 2768-1, fine: the narrowest linear tolerance is 0.05 mm either way (from memory)",
    ),
    HouseRule(
        key="finish_stock_most",
        title="A tool that only finishes takes at most this much sideways or down",
        value=Decimal("0.6"),
        unit="mm",
        basis="common practice, no source: 0.1 to 0.5 mm is left for a finisher",
    ),
    HouseRule(
        key="finish_stock_least",
        title="A tool that only finishes takes at least this much",
        value=Decimal("0.03"),
        unit="mm",
        basis="common practice, no source: less and the edge rubs",
    ),
    HouseRule(
        key="carbide_dry_depth",
        title="A carbide drill without coolant through it is asked about past this depth of material",
        value=Decimal("3"),
        unit="× D",
        basis="common practice, no source; a web calculator pecks from 3 × D",
    ),
    HouseRule(
        key="peck_least_hard",
        title="In stainless steel and titanium a peck is at least this deep",
        value=Decimal("0.5"),
        unit="× D",
        basis="common practice, no source: a drill that rubs at the bottom hardens it",
    ),
    HouseRule(
        key="tap_feed_off",
        title="Rigid tapping feeds pitch × rpm to within this share",
        value=Decimal("0.005"),
        unit="",
        basis="common practice, no source: half a percent",
    ),
    HouseRule(
        key="tap_float_most",
        title="With a floating holder a tap feeds at most this share under pitch × rpm",
        value=Decimal("0.05"),
        unit="",
        basis="common practice, no source: one to five percent under",
    ),
    HouseRule(
        key="tap_lead_pitches",
        title="Below a thread its hole goes on for at least this many pitches",
        value=Decimal("2"),
        unit="pitches",
        basis="common practice, no source: the lead of a bottoming tap is 1 to 2 pitches, of a plug tap 3 to 5",
    ),
    HouseRule(
        key="through_most",
        title="A drill's full diameter goes at most this far below the stock",
        value=Decimal("5"),
        unit="mm",
        basis="common practice, no source: a worked example of a drilling calculator breaks through by 1.3 mm",
    ),
    HouseRule(
        key="head_modes",
        title="The first lines of a program cancel what may be in force (0 not asked, 1 a note, 2 a decision)",
        value=Decimal("1"),
        unit="",
        basis="common practice, no source: a line of G codes at the head that sets all modes",
    ),
    HouseRule(
        key="time_over_plan",
        title="The program runs at most this share longer than the plan took it to",
        value=Decimal("0.3"),
        unit="",
        basis="common practice, no source",
    ),
    HouseRule(
        key="mill_reach",
        title="A mill stands out of its holder at most this many diameters",
        value=Decimal("6"),
        unit="× D",
        basis="common practice, no source: past 4 to 6 it chatters",
    ),
)
"""What tools, speeds, holes and loads are judged by; bound only where the shop set them, as those above."""
