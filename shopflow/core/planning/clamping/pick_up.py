"""Where a setup's part zero is, and what there is on the part to find it by. Common practice with no source."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shopflow.core.planning.clamping.facing import Facing, datums_on, facing, said
from shopflow.core.planning.clamping.gripping import Stand, round_outside_mm
from shopflow.core.planning.directions import flat_axes, height_axis, name_of, names_of, opposite
from shopflow.core.planning.placement import middle_of_top
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid.reading import Hole
from shopflow.core.types import Box, Vector

LEAST_BORE_MM = 5.0
"""A bore that an indicator or a probe goes into."""
LEAST_BOTH = 2


class PickUp(StrEnum):
    """What finds the part zero at the machine; the trade's words."""

    EDGE_FINDER = "edge finder"
    INDICATOR = "indicator"
    PROBE = "probe"
    STOP = "stop"


@dataclass(frozen=True)
class Zero:
    """at_mm: in the model's coordinates. how: in words. caution: what the setup lacks, or ""."""

    at_mm: Vector
    by: PickUp
    how: str
    caution: str = ""


def zero_of_blank(up: str, part: Box) -> Zero:
    """In the middle of what is up: sawn sides are straight, and a blank a little large or small shifts nothing."""
    height = "the top of the blank, less what is faced off"
    return Zero(middle_of_top(up, part), PickUp.EDGE_FINDER, f"both sides in X and in Y; height from {height}")


def zero_of_part(up: str, along_x: str, part: Box, stand: Stand | None, rules: PlanRules, *, is_nested: bool) -> Zero:
    """On what earlier setups cut: two datum sides of the print, else the middle between straight sides, else a bore.

    is_nested: whether soft jaws are cut to its shape, which then have the zero.
    """
    middle, under = middle_of_top(up, part), "height from the finished face on the parallels"
    if is_nested:
        how = "X and Y from the soft jaws, which are cut in place; height from their floor"
        return Zero(middle, PickUp.STOP, how)
    if stand is None or not stand.is_known:
        return Zero(middle, PickUp.EDGE_FINDER, f"both sides in X and in Y; {under}")
    seen = facing(up, along_x)
    flat = {side for side in (seen.left, seen.right, seen.front, seen.back) if stand.at_side(side)}
    ends = [side for side in (seen.left, seen.right) if side in flat]
    corner = next((side for side in ends if datums_on([side], stand.reading)), "")
    if corner and seen.back in flat and datums_on([seen.back], stand.reading):
        return _at_corner(up, part, corner, seen.back, "datums of the print", under)
    if len(flat) == 2 * LEAST_BOTH:
        return Zero(middle, PickUp.EDGE_FINDER, f"both sides in X and in Y; {under}")
    return _without_four_sides(up, part, seen, flat, stand, rules, under)


def _without_four_sides(
    up: str, part: Box, seen: Facing, flat: set[str], stand: Stand, rules: PlanRules, under: str
) -> Zero:
    """By the round outside or a bore, which centre in both ways; else by one straight side in each."""
    middle = middle_of_top(up, part)
    round_mm, bore = round_outside_mm(stand), _bore(stand)
    if round_mm is not None:
        return Zero(middle, PickUp.INDICATOR, f"the round outside ⌀{rules.say(round_mm)} in X and Y; {under}")
    if bore is not None:
        at = _moved(middle, {axis: bore.position_mm[axis] for axis in flat_axes(up)})
        return Zero(at, PickUp.INDICATOR, f"bore ⌀{rules.say(bore.diameter_mm)} in X and Y; {under}")
    end = next((side for side in (seen.left, seen.right) if side in flat), "")
    long_side = next((side for side in (seen.back, seen.front) if side in flat), "")
    if end and long_side:
        return _at_corner(up, part, end, long_side, "the straight sides", under)
    caution = "has no straight sides and no bore to find its zero by: indicate a stop, or leave an edge to pick up."
    return Zero(middle, PickUp.STOP, f"a stop in X and one in Y; {under}", caution)


def _at_corner(up: str, part: Box, end: str, long_side: str, which: str, under: str) -> Zero:
    places = {"XYZ".index(side[1]): part[side[0] == "+"]["XYZ".index(side[1])] for side in (end, long_side)}
    how = f"{said(end)} in X and {said(long_side)} in Y, {which}; {under}"
    return Zero(_moved(middle_of_top(up, part), places), PickUp.EDGE_FINDER, how)


def _moved(point: Vector, places: dict[int, float]) -> Vector:
    x, y, z = (places.get(axis, at) for axis, at in enumerate(point))
    return x, y, z


def _bore(stand: Stand) -> Hole | None:
    """The largest upright bore that is open above and cut by now."""
    up = stand.up
    found = [
        hole
        for hole in stand.reading.holes
        if hole.diameter_mm >= LEAST_BORE_MM
        and (name_of(hole.axis) == up or (hole.through and name_of(hole.axis) == opposite(up)))
        and names_of(hole.reach or (hole.axis,)).intersection(stand.before)
    ]
    return max(found, key=lambda hole: (hole.diameter_mm, -hole.position_mm[height_axis(up)]), default=None)
