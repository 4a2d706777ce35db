"""Faults of kinds that a toolpath generator or an edit at the control makes, and changes that hurt nobody.

Each stands alone in a program that is clean without it.
"""

from dataclasses import dataclass, field
from functools import partial

from shopflow.core.review import OnHand, Wear
from shopflow.core.review.life import Edge, LifeUnit
from tests.core.review.faults.pieces import THE_BAR, THE_PAIR, THE_PLATE, THE_TURNED, Piece


@dataclass(frozen=True)
class Change:
    """edits: by tag, the words that stand there instead; "" takes the line out, a leading + goes after the line."""

    piece: Piece
    kind: str
    edits: dict[str, str]
    on_hand: OnHand = field(default_factory=OnHand, kw_only=True)


@dataclass(frozen=True)
class Fault(Change):
    """code, weight: of the finding that must name a line of the edits, or of the tags in `at`. also: codes of what
    follows from the fault and is true as well."""

    code: str = ""
    weight: str = "must-fix"
    at: tuple[str, ...] = ()
    also: frozenset[str] = field(default_factory=frozenset)


@dataclass(frozen=True)
class Made:
    """A program, and the lines at which each tag ended up."""

    text: str
    lines: dict[str, range]


def made(piece, edits):
    unknown = set(edits) - {line.partition("|")[0] for line in piece.lines}
    assert not unknown, unknown
    text, lines = [], {}
    for tagged in piece.lines:
        tag, _, words = tagged.partition("|")
        edit = edits.get(tag)
        if edit is not None:
            words = words + "\n" + edit[1:] if edit.startswith("+") else edit
        pieces = words.split("\n") if words else []
        # A pass goes on to where the line after it begins, and may be blamed on either.
        lines[tag] = range(len(text) + 1, len(text) + len(pieces) + 2)
        text += pieces
    lines["end"] = range(max(len(text) - 1, 1), len(text) + 1)
    return Made("\n".join(text), lines)


def fault(piece, kind, code, weight, edits, at="", also="", on_hand=OnHand()):  # noqa: B008
    return Fault(
        piece, kind, edits, code, weight, tuple(at.split(", ")) if at else tuple(edits), frozenset(also.split()),
        on_hand=on_hand,
    )  # fmt: skip


def moved(piece, first, last, behind):
    """Edits that take the lines from one tag to another out and put them in behind a third."""
    tags = [line.partition("|")[0] for line in piece.lines]
    begin, end = tags.index(first), tags.index(last)
    block = [line.partition("|")[2] for line in piece.lines[begin : end + 1]]
    return dict.fromkeys(tags[begin : end + 1], "") | {behind: "+" + "\n".join(block)}


plate, bar, pair, turned = (partial(fault, one) for one in (THE_PLATE, THE_BAR, THE_PAIR, THE_TURNED))
MUST, DECIDE, NOTE = "must-fix", "decide", "note"
PLUNGE = "+T10 M6\nG54 G0 X30. Y36. S8000 M3\nG43 H10 Z50. M8\nZ2.\nG1 Z-1. F100.\nG0 Z50. M9\nM5\nG53 G0 Z0."
SPOT_90 = "+T13 M6\nG54 G0 X30. Y25.5 S1000 M3\nG43 H13 Z50. M8\nG81 G99 Z-1. R2. F60.\nG80\nG0 Z50. M9\nM5\nG53 G0 Z0."
SINK = "+T4 M6\nG54 G0 X8. Y8. S5000 M3\nG43 H4 Z50. M8\nG81 G99 Z-1.55 R2. F400.\nG80\nG0 Z50. M9\nM5\nG53 G0 Z0."
ROUND_AGAIN = (
    "+T3 M6\nG54 G0 X30. Y20. S8000 M3\nG43 H3 Z50. M8\nZ-3.5\nG1 Z-5. F150.\nX39. F700.\nY25.\nG0 Z50. M9\nM5\n"
    "G53 G0 Z0."
)
RUBS = "+T3 M6\nG54 G0 X-10. Y15. S2000 M3\nG43 H3 Z50. M8\nZ-6.01\nG1 X50. F200.\nG0 Z50. M9\nM5\nG53 G0 Z0."
DRY_AFTER = "G0 Z50. M9\nM5\nM00 (BLOW THE CHIPS OUT)\nS8000 M3\nX2. Y40.\nZ-4."
NOT_AS_PLANNED = "tool-not-planned planned-not-used "


def worn(number, *, pieces=20, edge=Edge.SHARP, left=None, unit=LifeUnit.HOLES, finishes=False):
    """The lot, and the one tool that somebody said something of."""
    return OnHand(pieces, (Wear(number, edge, left, unit, finishes),))


FAULTS = (
    plate("wall gouged", "gouge", MUST, {"wall 1": "Y25.3"}, at="wall 1, wall 2"),
    plate("floor too deep", "gouge", MUST, {"floor 3": "X38. Z-5.1\nZ-5."}),
    pair("hole missed", "feature-untouched", MUST, {"hole 2": ""}, at="end"),
    plate("tap without a hole", "plunge-not-centre-cutting", MUST, {"drill 4": ""}, at="tap 4"),
    plate("chamfer missed", "feature-untouched", MUST, {"chamfer": ""}, at="end"),
    plate("hole too shallow", "tap-bottoms", MUST, {"drill 4": "X8. Z-11."}, at="tap 4",
          also="stock-left gouge plunge-not-centre-cutting"),
    plate("rapid through material", "rapid-through-material", MUST, {"rough 5": "+G0 X50. Y30."}, also="gouge"),
    plate("rapid too near", "rapid-too-near", DECIDE, {"wall out": "+G0 Z0.5\nX50."}),
    plate("link that stays down too near a wall", "rapid-too-near", DECIDE, {"wall out": "G0 X38.8 Y20.\nY24."}),
    plate("jaw milled", "workholding-touched", MUST,
          {"wall out": "+G0 Z20.\nX30. Y-5.\nG1 Z-9. F200.\nG0 Z20."}),
    plate("spindle not started", "spindle-stopped", MUST, {"T5 speed": "G54 G0 X8. Y8. S4500"}, at="drill 1"),
    plate("speed over the machine", "rpm-over-machine", MUST, {"T2 speed": "G54 G0 X26. Y20. S16000 M3"}),
    plate("speed over the tool", "rpm-over-tool", MUST, {"T7 speed": "G54 G0 X8. Y8. S2000 M3"}, also="tap-feed"),
    plate("tap feed wrong", "tap-feed", MUST, {"tap 1": "G84 G99 X8. Y8. Z-13.4 R5. F600."}),
    plate("tap feed of a floating holder", "tap-feed", DECIDE, {"tap 1": "G84 G99 X8. Y8. Z-13.4 R5. F485."}),
    plate("surface speed too high", "too-fast", NOTE, {"T5 speed": "G54 G0 X8. Y8. S7500 M3"}, at="drill 1"),
    plate("feed too fast", "feeds-too-fast", NOTE, {"face 1": "X90. F9000."}),
    plate("feed too slow", "feeds-too-slow", NOTE, {"face 1": "X90. F50."}),
    plate("plunge at the feed sideways", "plunges-too-fast", DECIDE, {"floor in": "G1 Z-5. F1500."}),
    plate("ramp too steep", "ramps-too-steep", DECIDE, {"ramp 1": "X26. Z-4."}),
    plate("roughing tool finishes", "use-not-allowed", DECIDE,
          {"T3 call": "T10 M6", "T3 length": "G43 H10 Z50. M8"}, at="floor 1",
          also=NOT_AS_PLANNED + "plunge-not-centre-cutting"),
    plate("direct plunge", "plunge-not-centre-cutting", MUST, {"T3 home": PLUNGE}, also="gouge"),
    plate("another tool's length", "length-offset-of-another", DECIDE, {"T5 length": "G43 H4 Z50. M8"}, at="drill 1"),
    plate("no length offset", "no-length-offset", MUST, {"T5 length": "G49 Z50. M8"}, at="drill 1"),
    plate("unknown tool", "tool-unknown", MUST, {"T5 call": "T25 M6"}, at="T5 speed", also="feature-untouched"),
    plate("unread word", "unread-word", MUST, {"modes": "+M777"}),
    plate("no program end", "no-program-end", MUST, {"last": ""}, at="end"),
    plate("coolant forgotten", "cuts-dry", DECIDE, {"T5 length": "G43 H5 Z50."}, at="drill 1"),
    plate("drill outlasted by the lot", "tool-life-short", DECIDE, {}, at="T5 call", on_hand=worn(5, left=30.0)),
    plate("mill outlasted by the lot", "tool-life-short", DECIDE, {}, at="T1 call",
          on_hand=worn(1, left=1.0, unit=LifeUnit.MINUTES)),
    plate("worn tool finishes", "tool-worn-finishes", DECIDE, {}, at="T3 call",
          on_hand=worn(3, edge=Edge.WORN, finishes=True)),
    plate("tool used up", "tool-used-up", DECIDE, {}, at="T7 call", on_hand=worn(7, edge=Edge.OUT)),
    plate("program ends low", "ends-low", MUST, {"T6 up": "M9", "T6 home": ""}, at="last"),
    plate("compensation left on", "compensation-left-on", MUST, {"chamfer": "G41 D6 G1 Y48. F500."},
          at="chamfer, T6 up", also="feature-untouched gouge unread-word"),
    plate("tool changed in the cut", "changes-low", MUST, {"T3 up": "M9", "T3 home": ""}, at="wall out"),
    plate("speed of the tool before", "carried-over", DECIDE, {"T4 speed": "G54 G0 X8. Y8. M3"}, at="spot 1"),
    plate("spindle backwards", "turns-backwards", DECIDE, {"T2 speed": "G54 G0 X26. Y20. S8000 M4"}, at="ramp 1"),
    plate("no room for the tap's lead", "tap-near-bottom", DECIDE, {"tap 4": "X8. Z-15."}),
    plate("drill far below", "drills-far-below", DECIDE, {"drill 4": "X8. Z-22."}),
    bar("deep plunge of a steel drill", "plunge-too-deep", DECIDE, {"peck": "G81 G99 X10. Y4.5 Z-26.803 R2. F40."}),
    bar("deep plunge of a steel drill", "plunge-too-deep", MUST,
        {"T9 call": "T5 M6", "T9 length": "G43 H5 Z50. M8", "peck": "G81 G99 X10. Y4.5 Z-27. R2. F40."},
        also="feature-untouched gouge stock-left"),
    bar("pecks too small", "pecks-small", DECIDE, {"peck": "G83 G99 X10. Y4.5 Z-26.803 R2. Q1. F40."}),
    bar("carbide drill without its coolant", "carbide-drill-dry", DECIDE, {"T8 length": "G43 H8 Z50. M8"}, at="deep"),
    bar("carbide drill comes all the way out", "carbide-full-retract", DECIDE,
        {"deep": "G83 G99 X30. Y25.5 Z-25.456 R2. Q6. F120."}),
    bar("spot narrower than the drill's point", "spot-too-narrow", DECIDE, {"T9 home": SPOT_90}, at="deep"),
    bar("hole too deep", "gouge", MUST, {"deep": "G81 G99 X30. Y25.5 Z-27. R2. F120."}),
    bar("more power than the spindle has", "too-much-power", DECIDE, {"slot in 1": "Z-6.", "slot 1": "G1 X50. F3000."}),
    bar("deeper than the flutes", "past-the-flutes", MUST,
        {"T12 call": "T11 M6", "T12 length": "G43 H11 Z50. M8", "slot in 1": "Z-7.5"}, at="slot 1",
        also="gouge feature-untouched holder-rubs"),
    bar("holder in the part", "holder-rubs", MUST,
        {"T12 call": "T11 M6", "T12 length": "G43 H11 Z50. M8", "slot in 1": "Z-9."}, at="slot 1",
        also="gouge feature-untouched past-the-flutes"),
    bar("slender tool bends", "tool-bends", DECIDE, {"T12 call": "T14 M6", "T12 length": "G43 H14 Z50. M8"},
        at="slot 1", also="feature-untouched"),
    bar("pass run twice", "air-cut", DECIDE, {"slot 3": "+X-10."}),
    bar("coolant through a tool without a channel", "through-without", DECIDE, {"T9 length": "G43 H9 Z50. M88"},
        at="peck"),
    bar("no coolant at all", "coolant-not-usual", DECIDE,
        {f"T{n} length": f"G43 H{n} Z50." for n in (12, 4, 9, 8)}, at="peck"),
    bar("air alone on a steel drill in stainless", "coolant-not-usual", DECIDE, {"T9 length": "G43 H9 Z50. M89"},
        at="peck"),
    bar("mist alone on a carbide mill in stainless", "coolant-not-usual", NOTE, {"T12 length": "G43 H12 Z50. M7"},
        at="slot 1"),
    plate("air alone on a tap in aluminium", "coolant-not-usual", DECIDE, {"T7 length": "G43 H7 Z50. M89"}, at="tap 1"),
    pair("work offset that the plan does not have", "offset-not-planned", MUST,
         {"second speed": "G56 G0 X-30. Y15. S3000 M3"}, also="feature-untouched"),
    pair("tool that the plan does not have", "tool-not-planned", DECIDE,
         {"T8 call": "T12 M6", "T8 length": "G43 H12 Z50. M8"}, at="T8 speed", also="gouge feature-untouched"),
    pair("travel beyond the machine", "travel-over-machine", MUST, {"second face": "X900. F1500."}),
    pair("rapid down into the stock", "rapid-through-material", MUST, {"holes": "+G0 Z-3.\nX20."}, also="gouge"),
    turned("no stop where the part is turned", "no-stop", MUST, {"stop": ""}, at="second speed"),
    turned("only an optional stop", "stop-only-optional", MUST, {"stop": "M01 (TURN THE PART OVER, G55)"}),
    turned("stop with the spindle on", "stop-with-spindle-on", MUST, {"T3 off": ""}, at="stop"),
    turned("stop with the coolant on", "stop-with-coolant-on", DECIDE, {"T3 up": "G0 Z50."}, at="stop"),
    turned("stop in the cut", "stop-without-retract", MUST, {"T3 up": "M9", "T3 home": ""}, at="stop",
           also="changes-low offset-changes-low"),
    turned("stop too low", "stop-too-low", DECIDE, {"T3 up": "G0 Z10. M9", "T3 home": ""}, at="stop"),
    turned("stop without a message", "stop-says-nothing", NOTE, {"stop": "M00"}),
    turned("too much left for the finisher", "finisher-takes-much", DECIDE,
           {"T2 speed": "G54 G0 X5. Y-10. S8000 M3"}, at="finish"),
    plate("modes not cancelled at the head", "modes-not-given", NOTE, {"modes": "G21 G90"}, at="T1 speed, T1 home"),
    plate("finished before it is roughed", "finishes-before-roughing", DECIDE,
          moved(THE_PLATE, "T2 call", "T2 home", "T3 home"), at="floor 1, wall 1", also="rapid-through-material"),
    plate("tapped before it is drilled", "hole-made-later", MUST, moved(THE_PLATE, "T5 call", "T5 home", "T7 home"),
          at="tap 1", also="plunge-not-centre-cutting"),
    plate("spotted after it is drilled", "spots-after-drilling", DECIDE,
          moved(THE_PLATE, "T4 call", "T4 home", "T5 home"), at="T5 home"),
    plate("edge broken before the face", "edge-before-face", DECIDE,
          moved(THE_PLATE, "T1 call", "T1 home", "T6 home"), at="chamfer"),
    plate("tap without a hole that the crib calls centre-cutting", "plunge-not-centre-cutting", MUST,
          {"T7 speed": "G54 G0 X14. Y32. S500 M3", "tap 1": "G84 G99 X14. Y32. Z-13.4 R5. F500."}, at="tap 1",
          also="gouge feature-untouched stock-left"),
    plate("nothing spotted", "not-spotted", NOTE, {"spot 4": ""}, at="drill 4"),
    plate("face milled with a drill's speed", "too-slow", NOTE, {"T1 speed": "G54 G0 X-30. Y10. S150 M3"}, at="face 1"),
    plate("facing with a wall finisher", "use-not-allowed", DECIDE,
          {"T1 call": "T2 M6", "T1 length": "G43 H2 Z50. M8", "face over": "Y14.\nX-30.\nY18.\nX90.\nY22.\nX-30.\nY26."
           "\nX90.\nY30."}, at="face 1", also="stock-left gouge rapid-through-material"),
    bar("finisher rubs", "finisher-takes-little", NOTE, {"T12 home": RUBS}, at="T12 home"),
    pair("offset changed in the part", "offset-changes-low", MUST,
         {"holes": "+G1 Z-3. F1000.", "T8 up": "M9", "T8 home": ""}, at="second speed",
         also="changes-low rapid-through-material workholding-touched gouge"),
    pair("setups in another order", "order-not-planned", DECIDE,
         moved(THE_PAIR, "first call", "T8 home", "second home"), at="top"),
    turned("coolant not given again after the stop", "coolant-not-on-again", DECIDE, {"step near": DRY_AFTER},
           at="step 2"),
    turned("the plan's tool is not used", "planned-not-used", NOTE,
           {"T3 call": "T2 M6", "T3 length": "G43 H2 Z50. M8"}, at="top", also="gouge feature-untouched"),
    turned("the plan's offset is not used", "offset-not-used", DECIDE,
           {"second speed": "G54 G0 X-30. Y15. S3000 M3"}, at="top, last, end", also="no-stop feature-untouched gouge"),
    turned("stock left on a wall", "stock-left", DECIDE, {"T3 speed": "G54 G0 X7.8 Y-10. S8000 M3"}, at="finish"),
)  # fmt: skip


BENIGN = (
    Change(THE_PLATE, "higher R plane", {"spot 1": "G81 G99 X8. Y8. Z-1.2 R4. F400."}),
    Change(THE_PLATE, "optional stop between tools", {"T1 home": "+M01"}),
    Change(THE_PLATE, "slower feed inside the window", {"face 1": "X90. F1200."}),
    Change(THE_PLATE, "a peck more", {"drill 1": "G83 G99 X8. Y8. Z-17. R2. Q6. F450."}),
    Change(THE_PLATE, "higher way over the part", {"T5 up": "G0 Z80. M9"}),
    Change(THE_PLATE, "a comment that names another tool", {"T3 call": "T3 M6 (ROUGHING MILL 20, SLOT)"}),
    Change(THE_PLATE, "line numbers", {"T4 near": "N10 Z5.", "spots": "N30 G80"}),
    Change(THE_PLATE, "length offset in a line of its own", {"T2 length": "G43 H2\nZ50.\nM8"}),
    Change(THE_PLATE, "other order of holes", {"spot 2": "Y32.", "spot 3": "X52.", "spot 4": "Y8."}),
    Change(THE_PLATE, "mouth sunk with the spot drill", {"T5 home": SINK}),
    Change(THE_PLATE, "finisher goes round once more after another tool", {"T4 home": ROUND_AGAIN}),
    Change(THE_PLATE, "link that stays down clear of the walls", {"wall out": "X30.\nG0 Z-4.4\nX34. Y22."}),
    Change(THE_BAR, "dwell before the drill", {"T9 near": "Z5.\nG4 P500"}),
    Change(THE_BAR, "larger pecks", {"peck": "G83 G99 X10. Y4.5 Z-26.803 R2. Q6. F40."}),
    Change(THE_BAR, "speed a little lower", {"T12 speed": "G54 G0 X-10. Y15. S1800 M3"}),
    Change(THE_PLATE, "drill that just lasts the lot", {}, on_hand=worn(5, left=80.0)),
    Change(THE_PLATE, "worn tool that roughs", {}, on_hand=worn(2, edge=Edge.WORN)),
    Change(THE_PLATE, "used-up tool that nobody calls", {}, on_hand=worn(14, edge=Edge.OUT)),
    Change(THE_PLATE, "mist instead of flood", {"T7 length": "G43 H7 Z50. M7"}),
    Change(THE_PLATE, "air at a mill in aluminium", {"T2 length": "G43 H2 Z50. M89"}),
    Change(THE_PLATE, "coolant a little after the feed begins", {"face in": "+M8", "T1 length": "G43 H1 Z50."}),
    Change(THE_PAIR, "codes written with two digits", {"first up": "G00 Z50. M09", "first off": "M05"}),
    Change(THE_TURNED, "another message at the stop", {"stop": "M00 (TURN OVER, CLEAN THE JAWS)"}),
)
