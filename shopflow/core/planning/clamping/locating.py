"""What a setup stands on and is pushed against, which datums of the print that serves, and whether the grip suffices.

All of it is common practice with no source: the fixed jaw is the one at the back, the stop stands at the left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.core.planning.clamping.facing import Facing, datums_on, facing, said
from shopflow.core.planning.clamping.gripping import Stand
from shopflow.core.planning.clamping.holding import HeldIn, Holding
from shopflow.core.planning.directions import height_axis
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid.reading import Reading
from shopflow.core.types import Vector

FIXED_JAW = "back"
STOP = "left"


@dataclass(frozen=True)
class Locating:
    """fixed_jaw: the side of the vise that does not move, seen from the machine's front. stop_side: left or right.

    located_on: in words. datums: letters of those that lie on the surfaces it is located by, where they are cut
    already. stop_side: "" where no end is flat. All "" where nothing is gripped or the directions are not known.
    """

    fixed_jaw: str = ""
    stop_side: str = ""
    located_on: str = ""
    datums: str = ""


def locating(index: int, up: str, holding: Holding, reading: Reading, stand: Stand | None = None) -> Locating:
    """Of the index-th setup, counted from 0: raw sides in the first, later the face below and two sides cut before."""
    if not holding.along_x:
        return Locating()
    seen = facing(up, holding.along_x)
    if holding.grip_mm is None:
        on = "the raw lower side" if index == 0 else f"{_below(seen, stand)}, cut before"
        served = _datums(index, [seen.below], reading)
        return Locating(located_on=f"{on}, on the table or on parallels", datums=served)
    if index == 0:
        on = "raw lower side on the parallels, raw long side on the fixed jaw, an end on the stop"
        return Locating(FIXED_JAW, STOP, on)
    if holding.held_in is HeldIn.SOFT_JAWS:
        on = f"{_below(seen, stand)} on the floor of the soft jaws, its outline in their shape"
        return Locating(FIXED_JAW, "", on, _datums(index, [seen.below], reading))
    stop = _stop(seen, reading, stand)
    end = {"left": seen.left, "right": seen.right}.get(stop, "")
    against = f"{said(end)} on the stop" if end else "no end is flat for a stop"
    on = f"{_below(seen, stand)} on the parallels, {said(seen.back)} on the fixed jaw, {against}"
    return Locating(FIXED_JAW, stop, on, _datums(index, [seen.below, seen.back, *filter(None, [end])], reading))


def _below(seen: Facing, stand: Stand | None) -> str:
    flat = stand is None or not stand.is_known or stand.stands_flat
    return f"{'the face that looks' if flat else 'what is lowest'} to {said(seen.below)}"


def _stop(seen: Facing, reading: Reading, stand: Stand | None) -> str:
    """At the end that is flat and a datum; by habit on the left. "" where no end is flat."""
    if stand is None or not stand.is_known:
        return STOP
    ends = {"left": seen.left, "right": seen.right}
    flat = [name for name, side in ends.items() if stand.at_side(side)]
    return next((name for name in flat if datums_on([ends[name]], reading)), next(iter(flat), ""))


def _datums(index: int, sides: Sequence[str], reading: Reading) -> str:
    """Datum planes that look to one of these sides; none while the sides are raw."""
    return datums_on(sides, reading) if index else ""


def grip_note(up: str, grip_mm: float | None, blank_mm: Vector, rules: PlanRules) -> str:
    """Where the part stands higher over the jaws than the house rule allows for its grip; "" where it does not.

    What its setup does, without naming it: "grips …".
    """
    return standing_note(grip_mm, blank_mm[height_axis(up)], rules)


def standing_note(grip_mm: float | None, tall_mm: float, rules: PlanRules) -> str:
    """The same of what is so tall as it stands."""
    if not grip_mm:
        return ""
    standing = tall_mm - grip_mm
    if standing <= rules.depth_to_grip * grip_mm:
        return ""
    held, high = rules.say(grip_mm), rules.say(standing)
    return f"grips {held} and stands {high} over the jaws: grip more, cut lighter, or support it."
