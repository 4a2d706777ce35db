"""How a tilted clamping is held, located and picked up: suggestions for a person to change.

All of it is common practice with no source: a block is turned in the vise between the two sides that stay upright, on a
sine bar; what no vise takes is clamped to an angle plate.
"""

from __future__ import annotations

from math import floor

from shopflow.core.planning.clamping.facing import MINUS, datums_on, said
from shopflow.core.planning.clamping.holding import LETTERS, MOST_WORK_OFFSETS, HeldIn, Holding, PickUp
from shopflow.core.planning.clamping.locating import FIXED_JAW, Locating
from shopflow.core.planning.directions import AXES, along, opposite
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.tilting.place import TiltedPart
from shopflow.core.planning.tilting.sine import SURE_TO_DEG, blocks_high, blocks_words
from shopflow.core.types import Vector

GRIP_SHARE = 0.5
"""Of the tilted part's height, at most: it rests on an edge and not on a face."""
LEAST_GRIP_MM = 8.0
"""Less holds no tilted part."""


def tilted_holding(
    index: int, part: TiltedPart, mouths: list[Vector], beside: list[Vector], through: int, rules: PlanRules
) -> Holding:
    """The index-th setup, counted from 0. mouths: places of the model where something is cut. beside: the lowest places
    at which a tool stands beside the part. through: how many holes come out underneath.
    """
    grip = grip_mm(part, beside, rules)
    return Holding(
        workholding=_in_vise(part, rules) if grip else _on_plate(part, rules),
        grip_mm=grip,
        work_offset=min(index + 1, MOST_WORK_OFFSETS),
        pick_up=_pick_up(part, mouths, rules),
        stock_in="from the setup before",
        zero_mm=part.zero_mm,
        along_x=part.stand.along_x,
        pick_up_by=PickUp.EDGE_FINDER,
        held_in=HeldIn.VISE if grip else HeldIn.CLAMPS,
        cautions=tuple(cautions(part, through, rules, is_in_vise=grip is not None)),
    )


def tilted_locating(part: TiltedPart, holding: Holding) -> Locating:
    """The face that was below lies on the sine bar or plate; the part is pushed down the slope against the stop."""
    below, back = opposite(part.stand.up), _side(part, "back")
    down = "right" if part.stand.angles[1] > 0 else "left"
    end = _side(part, down)
    if holding.grip_mm is None:
        on = f"the face that looks to {said(below)} on the plate, {said(end)} on a stop at its lower end"
        return Locating(located_on=on, datums=datums_on([below, end], part.reading))
    on = f"the face that looks to {said(below)} on the sine bar, {said(back)} on the fixed jaw, {said(end)} on the stop"
    return Locating(FIXED_JAW, down, on, datums_on([below, back, end], part.reading))


def grip_mm(part: TiltedPart, beside: list[Vector], rules: PlanRules) -> float | None:
    """How high the jaws reach over its lowest edge, below every tool; None where no vise takes it.

    beside: the lowest places of the model at which a tool stands beside the part.
    """
    wide = part.box[1][1] - part.box[0][1]
    sides = [_side(part, "front"), _side(part, "back")]
    if not part.is_about_y or wide > rules.widest_in_vise_mm:
        return None
    if not all(part.is_flat_at_lowest(side) for side in sides):
        return None
    lowest = min((part.over_bottom_mm(point) for point in beside), default=part.height_mm)
    most = min(GRIP_SHARE * part.height_mm, lowest - rules.over_jaws_mm, rules.jaw_height_mm / 2)
    grip = floor(most / rules.size_step_mm + 1e-9) * rules.size_step_mm
    return grip if grip >= LEAST_GRIP_MM else None


def lifted(part: TiltedPart) -> list[tuple[str, float]]:
    """Which ends are lifted, by how many degrees: first about X, then about Y."""
    about_x, about_y, _ = part.stand.angles
    found = [("back end" if about_x > 0 else "front end", abs(about_x))]
    found += [("left end" if about_y > 0 else "right end", abs(about_y))]
    return [(end, angle) for end, angle in found if angle]


def lifted_words(part: TiltedPart) -> str:
    """As "left end up 30°"."""
    return ", then ".join(f"{end} up {degrees_words(angle)}" for end, angle in lifted(part))


def degrees_words(angle: float) -> str:
    return f"{round(angle, 4):g}\u00b0"


def cautions(part: TiltedPart, through: int, rules: PlanRules, *, is_in_vise: bool) -> list[str]:
    """What to think about, each following the setup's name. through: holes that come out underneath."""
    made = [f"is held aslant ({lifted_words(part)}): check the angle with an indicator before the first cut."]
    missing = [side for side in (part.outermost, part.foremost, "top") if side and not part.is_sharp(part.corner(side))]
    if missing:
        edges = " and ".join("highest" if side == "top" else side for side in missing)
        made.append(
            f"finds no sharp {edges} edge of the part's box for its zero: put a gauge pin or tooling ball at a known "
            "place and pick that up instead."
        )
    elif not part.is_about_y:
        made.append("is picked up on corners, which are points: a tooling ball at a known place is surer.")
    if any(angle > SURE_TO_DEG for _, angle in lifted(part)):
        made.append(f"stands steeper than {SURE_TO_DEG:g}\u00b0, where a sine bar is not sure: use an angle plate.")
    if through:
        held = "the sine bar and its blocks" if is_in_vise else "the plate"
        made.append(f"drills through: keep {held} clear of where the drill comes out.")
    return made


def _in_vise(part: TiltedPart, rules: PlanRules) -> str:
    jaws = LETTERS["XYZ".index(_side(part, "back")[1])]
    wide = part.box[1][1] - part.box[0][1]
    blocks = blocks_words(part.stand.angles[1], rules)
    return f"vise, jaws on the finished sides across {jaws}, {rules.say(wide)} apart; {lifted_words(part)}: {blocks}"


def _on_plate(part: TiltedPart, rules: PlanRules) -> str:
    """A sine plate has one hinge for each angle; the upper one tilts first."""
    each = [(f"{end} up {degrees_words(angle)}", angle) for end, angle in lifted(part)]
    if len(each) == 1:
        return f"clamped to an angle plate; {each[0][0]}: {blocks_words(each[0][1], rules)}"
    (upper, first), (lower, second) = each
    blocks = [blocks_high(angle, rules) for angle in (first, second)]
    bar = rules.say(rules.sine_bar_mm)
    return (
        f"clamped to a compound sine plate, {bar} between rolls; {upper}: {blocks[0]} of gauge blocks under the upper "
        f"plate; {lower}: {blocks[1]} under the lower"
    )


def _pick_up(part: TiltedPart, mouths: list[Vector], rules: PlanRules) -> str:
    """Which edges are touched, and where the axis of the first hole or pocket then lies."""
    if part.foremost:
        edges = f"{part.outermost} corner in X, {part.foremost} corner in Y; height on the highest corner"
    else:
        edges = f"{part.outermost} edge in X, both upright sides in Y; height on the highest edge"
    if not mouths:
        return edges
    x, y, _ = part.from_zero(mouths[0])
    return f"{edges}; the first axis then lies at X{_number(x, rules)}, Y{_number(y, rules)}"


def _number(value_mm: float, rules: PlanRules) -> str:
    value, places = (value_mm / 25.4, 4) if rules.unit == "in" else (value_mm, 3)
    return f"{round(value, places) + 0.0:g}".replace("-", MINUS)


def _side(part: TiltedPart, side: str) -> str:
    """The side of the part's own box that looks most this way."""
    way = part.way(side)
    return max(AXES, key=lambda name: along(way, AXES[name]))
