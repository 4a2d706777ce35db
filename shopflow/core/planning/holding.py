"""How a setup is held, where its part zero is and how it is picked up: suggestions in words, for a person to change.

All of it is common practice with no source. Work offsets run G54, G55 … in the order of the setups, so that every
setup's zero can stay set on one machine.
"""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.core.planning.directions import flat_axes, height_axis
from shopflow.core.planning.rules import PlanRules
from shopflow.core.types import Vector

MOST_WORK_OFFSETS = 9
LETTERS = "XYZ"


@dataclass(frozen=True)
class Holding:
    """Sentences without a full stop. grip_mm: None where nothing is gripped. work_offset: 1 is G54."""

    workholding: str
    grip_mm: float | None
    work_offset: int
    zero_point: str
    pick_up: str
    stock_in: str


def holding(index: int, up: str, part_mm: Vector, blank_mm: Vector, rules: PlanRules) -> Holding:
    """The index-th setup, counted from 0, with this side up."""
    is_first = index == 0
    sizes = blank_mm if is_first else part_mm
    jaws, width_mm = _jaws(up, sizes)
    in_vise = width_mm <= rules.widest_in_vise_mm
    held_on = "the raw sides" if is_first else "the finished sides"
    vise = f"vise on parallels, jaws on {held_on} across {jaws}, {rules.say(width_mm)} apart"
    clamps = "clamped to the table on parallels; the clamps move once while the part is cut"
    return Holding(
        workholding=vise if in_vise else clamps,
        grip_mm=rules.grip_mm if in_vise else None,
        work_offset=min(index + 1, MOST_WORK_OFFSETS),
        zero_point=_zero(is_first, up),
        pick_up=_pick_up(is_first, up),
        stock_in="sawn blank" if is_first else "from the setup before",
    )


def _jaws(up: str, sizes_mm: Vector) -> tuple[str, float]:
    """The axis the jaws close along: the shorter of the two that lie flat, so that the long side lies along the jaw."""
    first, second = flat_axes(up)
    axis = min((second, first), key=lambda flat: sizes_mm[flat])
    return LETTERS[axis], sizes_mm[axis]


def _zero(is_first: bool, up: str) -> str:
    first, second = (LETTERS[axis] for axis in flat_axes(up))
    side = f"{'highest' if up[0] == '+' else 'lowest'} {LETTERS[height_axis(up)]} of the part"
    where = "middle of the blank" if is_first else "middle of the finished sides"
    return f"{where} in {first} and {second}, {side}"


def _pick_up(is_first: bool, up: str) -> str:
    first, second = (LETTERS[axis] for axis in flat_axes(up))
    height = "the top of the blank, less what is faced off" if is_first else "the finished face on the parallels"
    return f"edge finder on both sides in {first} and in {second}; height from {height}"
