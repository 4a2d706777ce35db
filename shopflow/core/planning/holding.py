"""How a setup is held, where its part zero is and how it is picked up: suggestions for a person to change.

All of it is common practice with no source. Work offsets run G54, G55 … in the order of the setups, so that every
setup's zero can stay set on one machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shopflow.core.planning.directions import flat_axes
from shopflow.core.planning.placement import long_side_along_x, middle_of_top
from shopflow.core.planning.rules import PlanRules
from shopflow.core.types import Box, Vector

MOST_WORK_OFFSETS = 9
LETTERS = "XYZ"


class PickUp(StrEnum):
    """What finds the part zero at the machine; the trade's words."""

    EDGE_FINDER = "edge finder"
    INDICATOR = "indicator"
    PROBE = "probe"
    STOP = "stop"


@dataclass(frozen=True)
class Holding:
    """Sentences without a full stop. grip_mm: None where nothing is gripped. work_offset: 1 is G54.

    zero_mm: the part zero in the model's coordinates; along_x: the axis of the model that lies along the machine's X+.
    None and "" where there is no model. pick_up_by: a PickUp, or "".
    """

    workholding: str
    grip_mm: float | None
    work_offset: int
    pick_up: str
    stock_in: str
    zero_mm: Vector | None = None
    along_x: str = ""
    pick_up_by: str = ""


def holding(index: int, up: str, part: Box, blank_mm: Vector, rules: PlanRules) -> Holding:
    """The index-th setup, counted from 0, with this side up. part: its box in the model's coordinates.

    By habit the zero is in the middle of what is up, which the jaws close on from both sides, so that a blank sawn a
    little large or small shifts nothing.
    """
    is_first = index == 0
    sizes = blank_mm if is_first else _sizes(part)
    jaws, width_mm = _jaws(up, sizes)
    parallels = max(0.0, rules.jaw_height_mm - rules.grip_mm)
    in_vise = width_mm <= rules.widest_in_vise_mm
    held_on = "the raw sides" if is_first else "the finished sides"
    vise = (
        f"vise on parallels {rules.say(parallels)} high, jaws on {held_on} across {jaws}, {rules.say(width_mm)} apart"
    )
    clamps = "clamped to the table on parallels; the clamps move once while the part is cut"
    return Holding(
        workholding=vise if in_vise else clamps,
        grip_mm=rules.grip_mm if in_vise else None,
        work_offset=min(index + 1, MOST_WORK_OFFSETS),
        pick_up=_pick_up(is_first),
        stock_in="sawn blank" if is_first else "from the setup before",
        zero_mm=middle_of_top(up, part),
        along_x=long_side_along_x(up, sizes),
        pick_up_by=PickUp.EDGE_FINDER,
    )


def _sizes(box: Box) -> Vector:
    (a, b, c), (d, e, f) = box
    return d - a, e - b, f - c


def _jaws(up: str, sizes_mm: Vector) -> tuple[str, float]:
    """The axis the jaws close along: the shorter of the two that lie flat, so that the long side lies along the jaw."""
    first, second = flat_axes(up)
    axis = min((second, first), key=lambda flat: sizes_mm[flat])
    return LETTERS[axis], sizes_mm[axis]


def _pick_up(is_first: bool) -> str:
    height = "the top of the blank, less what is faced off" if is_first else "the finished face on the parallels"
    return f"both sides in X and in Y; height from {height}"
