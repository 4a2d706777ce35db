"""Every finding that the rules can make: weight, limit, where the limit comes from, an example. A test holds it true.

Codes of what the reader did not read or had to assume come from the reader and are not listed singly.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shopflow.core.review.house_rules import DEFAULTS


@dataclass(frozen=True)
class Entry:
    """code: of the finding. weights: those it can have. limits: keys of house rules. basis: where there is none."""

    family: str
    code: str
    weights: str
    example: str
    limits: tuple[str, ...] = ()
    basis: str = "common practice, no source"


def _family(name: str, *rows: tuple[object, ...]) -> Iterator[Entry]:
    for code, weights, example, *rest in rows:
        limits, basis = (rest[0], "") if rest and isinstance(rest[0], tuple) else ((), str(rest[0]) if rest else "")
        kept = basis or ("" if limits else "common practice, no source")
        yield Entry(name, str(code), str(weights), str(example), tuple(map(str, limits)), kept)


_MACHINE, _CRIB, _PLAN, _SOLIDS = "the machine", "the crib", "the plan", "the workholding of the setup"
_TABLES = ("speed_reach",)

CATALOGUE: tuple[Entry, ...] = (
    *_family(
        "Reading",
        ("no-program-end", "must-fix", "no M2 or M30", "NISTIR 6556, 3.6.1"),
        ("no-motion", "must-fix", "comments only", "a program is there to move the machine"),
        ("machine-not-chosen", "note", "the plan names no machine", _PLAN),
        ("tools-not-given", "note", "no tool table was given", _CRIB),
    ),
    *_family(
        "Start and end",
        ("modes-not-given", "note, decide", "no G40 and no G80 before the first move", ("head_modes",)),
        ("ends-low", "must-fix", "M30 with the tool still in the slot"),
        ("compensation-left-on", "must-fix", "G41 in force at the tool change"),
        ("changes-low", "must-fix", "M6 in a pocket, on a control that does not retract", "the control profile"),
        ("offset-changes-low", "must-fix", "G55 with the tool down in the part in G54"),
        ("turns-backwards", "decide", "M4 with a right-hand end mill"),
        ("carried-over", "decide", "T3 gives no S and turns as T2 did"),
    ),
    *_family(
        "Tools and offsets",
        ("tool-unknown", "must-fix", "T9 is not in the crib", _CRIB),
        ("no-tool-called", "decide", "a feed before the first M6"),
        ("no-length-offset", "must-fix", "a feed under G49", "NISTIR 6556, 3.5.11"),
        ("length-offset-of-another", "decide", "T2 with H3", ("length_offset_shift",)),
        ("diameter-offset-of-another", "decide", "T2 with D3", ("length_offset_shift",)),
        ("tool-without-pocket", "decide", "T25 in a carousel of 24", _MACHINE),
        ("tool-life-short", "decide", "20 pieces of 4 min, 30 min left: runs out after piece 7", _CRIB),
        ("tool-worn-finishes", "decide", "a mill put down as worn, planned for walls", _CRIB),
        ("tool-used-up", "decide", "a tool put down as used up; the release waits as well", _CRIB),
        ("use-not-allowed", "decide", "a wall finisher faces the blank", "the crib's allowed uses"),
        ("finisher-takes-much", "decide", "a finisher meets 0.9 mm", ("finish_stock_most",)),
        ("finisher-takes-little", "note", "a finisher meets 0.01 mm all along", ("finish_stock_least",)),
        ("stands-far-out", "note", "a 6 mm end mill 60 mm out", ("mill_reach",)),
        ("lengths-not-known", "note", "no stickout in the crib", _CRIB),
    ),
    *_family(
        "Spindle and feed",
        ("spindle-stopped", "must-fix", "G1 after M5"),
        ("rpm-over-machine", "must-fix", "S12000 on a spindle of 8000", _MACHINE),
        ("rpm-under-machine", "decide", "S20 on a spindle from 50", _MACHINE),
        ("rpm-over-tool", "must-fix", "a tap of 1500 at S3000", _CRIB),
        ("feed-over-machine", "must-fix", "F20000 on a machine of 10000", _MACHINE),
        ("too-fast", "note, decide", "10 mm carbide in 1018 at S25000; decide where the shop has its own", _TABLES),
        ("too-slow", "note, decide", "the same at S500", _TABLES),
        ("feeds-too-fast", "note, decide", "0.5 mm a tooth, thin chips counted", _TABLES),
        ("feeds-too-slow", "note, decide", "0.002 mm a tooth", _TABLES),
        ("plunges-too-fast", "decide", "straight down at the feed sideways", ("plunge_feed_share",)),
        ("ramps-too-steep", "decide", "a ramp of 20°", ("ramp_most",)),
    ),
    *_family(
        "Stops",
        ("stop-without-retract", "must-fix", "M00 in the pocket"),
        ("stop-too-low", "decide", "M00 5 mm over the part", ("stop_clearance",)),
        ("stop-with-spindle-on", "must-fix", "M00 without M5", "NISTIR 6556, 3.6.1"),
        ("stop-with-coolant-on", "decide", "M00 without M9"),
        ("no-stop", "must-fix", "the plan has the part turned over here", _PLAN),
        ("stop-only-optional", "must-fix", "M01 where the part is turned over", _PLAN),
        ("stop-says-nothing", "note", "M00 without a message"),
        ("coolant-not-on-again", "decide", "M8 not given again after the stop"),
    ),
    *_family(
        "Coolant",
        ("cuts-dry", "decide", "one tool of five never has coolant"),
        ("coolant-not-usual", "note, decide", "a drill in stainless, no coolant in the whole program; flood over cast "
         "iron", "common practice, no source (seed_data/coolant.csv), or the shop's own row"),
        ("through-without", "decide", "coolant through a tool without a channel", "machine and crib"),
        ("wet-magnesium", "decide", "flood over magnesium", "NFPA 484 (from memory)"),
    ),
    *_family(
        "Travel",
        ("travel-over-machine", "must-fix", "900 mm on 760", _MACHINE),
        ("offset-not-planned", "must-fix", "G56, the plan has G54", _PLAN),
        ("offset-not-used", "decide", "the plan's G55 never comes", _PLAN),
    ),
    *_family(
        "Drilling and tapping",
        ("plunge-too-deep", "decide, must-fix", "a 5 mm HSS drill through 34 mm in one feed",
         ("hss_plunge_decide", "hss_plunge_most")),
        ("carbide-drill-dry", "decide", "6 × D without coolant through the drill", ("carbide_dry_depth",)),
        ("carbide-full-retract", "decide", "G83 with a carbide drill"),
        ("pecks-small", "decide", "1 mm pecks with 6 mm in stainless", ("peck_least_hard",)),
        ("not-spotted", "note", "an HSS drill starts on a bare face; not asked of carbide"),
        ("spot-too-narrow", "note, decide", "90° spot for a 140° carbide drill"),
        ("drills-far-below", "decide", "12 mm below the stock", ("through_most",)),
        ("below-not-known", "note", "through, and no workholding is drawn", _PLAN),
        ("tap-feed", "decide, must-fix", "M6 × 1 at S500 and F600; decide: F480, a floating holder's",
         ("tap_feed_off", "tap_float_most")),
        ("tap-bottoms", "must-fix", "a thread deeper than its hole", ("tap_lead_pitches",)),
        ("tap-near-bottom", "decide", "half a pitch left for the lead", ("tap_lead_pitches",)),
    ),
    *_family(
        "Order of work",
        ("finishes-before-roughing", "decide", "a wall is finished, then roughed"),
        ("hole-made-later", "must-fix", "the tap comes before its drill"),
        ("spots-after-drilling", "decide", "the spot drill comes after the drill, and touches nothing"),
        ("edge-before-face", "decide", "a chamfer, then the face beside it is milled down"),
    ),
    *_family(
        "Contact and clearance",
        ("rapid-through-material", "must-fix", "G0 through a boss", "a rapid does not cut"),
        ("workholding-touched", "must-fix", "into a jaw", _SOLIDS),
        ("rapid-too-near", "decide", "0.4 mm over the part at rapid",
         ("rapid_clearance", "rapid_clearance_raw", "rapid_clearance_link", "rapid_clearance_holding")),
        ("holder-rubs", "must-fix", "the holder meets a wall", ("touch_ignored",)),
        ("shank-rubs", "must-fix", "the shank meets a wall", ("touch_ignored",)),
        ("past-the-flutes", "must-fix", "deeper than the length of cut", ("touch_ignored",)),
        ("plunge-not-centre-cutting", "must-fix", "straight down, no centre, no hole", _CRIB),
    ),
    *_family(
        "Cutting load",
        ("too-much-power", "decide", "18 kW of a spindle of 7.5", ("power_share",)),
        ("tool-bends", "decide", "a slender mill gives way 0.2 mm", ("deflection_rough", "deflection_finish")),
    ),
    *_family(
        "What was cut",
        ("gouge", "decide, must-fix", "0.1 mm into a floor", ("gouge_decide", "gouge_most")),
        ("stock-left", "decide", "0.2 mm on a wall that nothing removes", ("stock_left_decide",)),
        ("feature-untouched", "must-fix", "a hole that nobody drills", "the model"),
        ("blank-short", "decide", "the smallest blank does not clean up", ("gouge_decide",)),
        ("air-cut", "decide", "a pass run twice", "simulation over the smallest and the largest blank"),
    ),
    *_family(
        "Program against plan",
        ("tool-not-planned", "decide", "T7 is in no setup of the plan", _PLAN),
        ("planned-not-used", "note", "the plan has T2, the program not", _PLAN),
        ("order-not-planned", "decide", "G55 before G54", _PLAN),
        ("tools-in-other-order", "note", "T6 before T4, which the plan has first", _PLAN),
        ("time-over-plan", "note", "planned 12 min, runs 25", ("time_over_plan",)),
    ),
)  # fmt: skip

_RULES = {rule.key: rule for rule in DEFAULTS}
HEAD = """\
# Rules of a review

Every finding that a review can make, made from the code by `python -m shopflow.core.review.catalogue`. must-fix stands
in the way of a sign-off until it is mended, decide until a person has decided, a note not at all. What the reader did
not read is a must-fix, and what it had to assume a decision or a note, under codes of its own. Limits are house rules
where one is named: a lead changes them, with a reason, and a review says which were in force. Rules about what is
cut say nothing where material was not removed.
"""


def document() -> str:
    """The text of docs/review-rules.md."""
    parts = [HEAD]
    for family in dict.fromkeys(entry.family for entry in CATALOGUE):
        rows = [_row(entry) for entry in CATALOGUE if entry.family == family]
        parts.append("\n".join([f"## {family}", "", "| code | weight | for example | limit and where it comes from |",
                                "| --- | --- | --- | --- |", *rows, ""]))  # fmt: skip
    return "\n".join(parts)


def _row(entry: Entry) -> str:
    limits = [
        f"{_RULES[key].title}: {_RULES[key].value:f} {_RULES[key].unit}".rstrip() + f" ({_RULES[key].basis})"
        for key in entry.limits
    ]
    return f"| `{entry.code}` | {entry.weights} | {entry.example} | {'; '.join([*limits, entry.basis]).strip('; ')} |"


if __name__ == "__main__":
    print(document(), end="")  # noqa: T201
