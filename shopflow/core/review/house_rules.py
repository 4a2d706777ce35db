"""The shop's own limits and habits: defaults as data, each with where it comes from. A shop stores what it changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType

from shopflow.core.review.limits import LIMITS, REVIEW_LIMITS, HouseRule
from shopflow.core.review.minutes_habits import MINUTES

__all__ = ["CUT_KEYS", "DEFAULTS", "UNBOUND_KEYS", "YOUNGER_KEYS", "LIMITS", "REVIEW_LIMITS", "HouseRule", "HouseRules"]

CUT_KEYS = (*(rule.key for rule in (*LIMITS, *REVIEW_LIMITS)), "hss_plunge_decide", "hss_plunge_most")
"""What rules about cutting may read."""
YOUNGER_KEYS = frozenset({*(rule.key for rule in (*LIMITS, *REVIEW_LIMITS)), "general_form"})
"""Rules that came after the first sign-offs; those bind one of them only where the shop set it."""
UNBOUND_KEYS = frozenset({*(rule.key for rule in MINUTES), "plan_tilted", "plan_sine_bar"})
"""What says how long hands take, or which clampings are proposed, changes no cut, and no sign-off holds it."""

DEFAULTS: tuple[HouseRule, ...] = (
    HouseRule(
        key="hss_plunge_decide",
        title="A high-speed-steel drill deeper than this in one plunge needs a decision",
        value=Decimal("3"),
        unit="× D",
        basis="a tool maker's tips and a drilling calculator: usually no pecking up to 3 × D; an open textbook (Mt "
        "Hood Community College, Support CNC, deep holes) calls 3 to 5 × D deep",
    ),
    HouseRule(
        key="hss_plunge_most",
        title="A high-speed-steel drill must peck when it goes deeper than this in one plunge",
        value=Decimal("5"),
        unit="× D",
        basis="an open textbook (Mt Hood Community College, Support CNC, deep holes): simple drill cycle up to 5 × D, "
        "pecking beyond",
    ),
    HouseRule(
        key="stop_clearance",
        title="At a program stop the tool stands at least this far above everything cut so far",
        value=Decimal("25"),
        unit="mm",
        basis="common practice, no source: room for a hand",
    ),
    HouseRule(
        key="sign_off_two_persons",
        title="Sign-off by another person than the one who brought the program in (1 yes, 0 no)",
        value=Decimal("0"),
        unit="",
        basis="common practice, no source: in a small shop one person often wears every hat",
    ),
    HouseRule(
        key="length_offset_shift",
        title="H is the tool number plus this",
        value=Decimal("0"),
        unit="",
        basis="common practice, no source: H equals T",
    ),
    HouseRule(
        key="plan_side_allowance",
        title="A plan leaves this much stock on each side of the blank",
        value=Decimal("2.5"),
        unit="mm",
        basis="common practice, no source",
    ),
    HouseRule(
        key="plan_top_allowance",
        title="A plan leaves this much stock on top of the blank, to be faced off",
        value=Decimal("1.5"),
        unit="mm",
        basis="common practice, no source",
    ),
    HouseRule(
        key="plan_grip",
        title="A plan holds the blank by this much stock under the part",
        value=Decimal("4"),
        unit="mm",
        basis="common practice, no source",
    ),
    HouseRule(
        key="plan_jaw_height",
        title="The jaws of the vise stand this high over its bed",
        value=Decimal("44"),
        unit="mm",
        basis="common practice, no source: a vise with jaws of 150 mm; measure your own",
    ),
    HouseRule(
        key="plan_depth_to_grip",
        title="A part stands over the jaws up to this many times its grip",
        value=Decimal("10"),
        unit="",
        basis="common practice, no source: beyond it cuts are made lighter or the part is supported",
    ),
    HouseRule(
        key="plan_corner_share",
        title="A plan takes end mills up to this share of an inside corner's radius",
        value=Decimal("0.9"),
        unit="",
        basis="common practice, no source: a tool of the corner's own radius stops in it and chatters",
    ),
    HouseRule(
        key="plan_finish_stock",
        title="A plan leaves this much for the finishing pass",
        value=Decimal("0.3"),
        unit="mm",
        basis="common practice, no source",
    ),
    HouseRule(
        key="plan_scallop",
        title="A plan moves a ball end mill over so far that ridges of this height stay",
        value=Decimal("0.01"),
        unit="mm",
        basis="common practice, no source",
    ),
    HouseRule(
        key="plan_tilted",
        title="A plan tilts the part for what no side of it reaches (1 yes, 0 no)",
        value=Decimal("1"),
        unit="",
        basis="common practice, no source: a vise, an angle plate and a sine bar are in most shops",
    ),
    HouseRule(
        key="plan_sine_bar",
        title="The rolls of the sine bar, or of the sine plate, lie this far apart",
        value=Decimal("100"),
        unit="mm",
        basis="common practice, no source: 100 and 200 mm, or 5 and 10 inches, are usual",
    ),
    HouseRule(
        key="general_tolerances",
        title="General tolerances are those of ISO 2768-1, class 1 fine, 2 medium, 3 coarse, 4 very coarse",
        value=Decimal("2"),
        unit="",
        basis="common practice, no source: medium is what most drawings call for",
    ),
    HouseRule(
        key="general_form",
        title="General tolerances of form and place are those of ISO 2768-2, class 1 H, 2 K, 3 L",
        value=Decimal("2"),
        unit="",
        basis="common practice, no source: K goes with medium",
    ),
    HouseRule(
        key="plan_saw_kerf",
        title="The saw takes this much with each cut",
        value=Decimal("2"),
        unit="mm",
        basis="common practice, no source: a band saw's blade with its set",
    ),
    HouseRule(
        key="plan_saw_stub",
        title="The saw takes this much off the end of a fresh bar first, with its kerf",
        value=Decimal("5"),
        unit="mm",
        basis="common practice, no source: mill ends are bent, burred or painted",
    ),
    HouseRule(
        key="plan_least_remnant",
        title="A remnant at least this long goes back to the rack",
        value=Decimal("50"),
        unit="mm",
        basis="common practice, no source",
    ),
    *LIMITS,
    *REVIEW_LIMITS,
    *MINUTES,
)

_BY_KEY = {rule.key: rule for rule in DEFAULTS}


@dataclass(frozen=True)
class HouseRules:
    """The rules in force: defaults, with what the shop changed. Unknown keys are refused."""

    changed: Mapping[str, Decimal] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        unknown = set(self.changed) - set(_BY_KEY)
        if unknown:
            raise ValueError(f"no such house rule: {', '.join(sorted(unknown))}")

    def value(self, key: str) -> Decimal:
        return self.changed.get(key, _BY_KEY[key].value)

    def limit(self, key: str) -> float:
        """The value for what is computed with floats."""
        return float(self.value(key))

    def basis(self, key: str) -> str:
        """Where the value comes from: the shop, or the default's source."""
        return "this shop's house rule" if key in self.changed else f"house rule default: {_BY_KEY[key].basis}"
