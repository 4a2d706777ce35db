"""How a setup is held, where its part zero is and how it is picked up: suggestions for a person to change.

All of it is common practice with no source. Work offsets run G54, G55 … in the order of the setups, so that every
setup's zero can stay set on one machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import ceil, floor

from shopflow.core.planning.clamping.facing import datums_on, facing
from shopflow.core.planning.clamping.gripping import (
    Clasp,
    Stand,
    clasps,
    inside_faces,
    outside_cut_mm,
    round_outside_mm,
)
from shopflow.core.planning.clamping.pick_up import PickUp, zero_of_blank, zero_of_part
from shopflow.core.planning.directions import flat_axes, height_axis
from shopflow.core.planning.placement import long_side_along_x
from shopflow.core.planning.rules import PlanRules
from shopflow.core.types import Box, Vector

MOST_WORK_OFFSETS = 9
LETTERS = "XYZ"
__all__ = ["HeldIn", "Holding", "PickUp", "holding"]
LEAST_UNDER_JAWS_MM = 10.0
"""Jaws hold no higher than this over their bed: a part stands on parallels, so that drills come out below it."""


class HeldIn(StrEnum):
    """What a setup is proposed to be held in."""

    VISE = "vise"
    SOFT_JAWS = "soft jaws"
    CLAMPS = "clamps"


@dataclass(frozen=True)
class Holding:
    """Sentences without a full stop. grip_mm: None where nothing is gripped. work_offset: 1 is G54.

    zero_mm: the part zero in the model's coordinates; along_x: the axis of the model that lies along the machine's X+.
    None and "" where there is no model. pick_up_by: a PickUp, or "". cautions: what to think about, each as what the
    setup does: "closes across X: …".
    """

    workholding: str
    grip_mm: float | None
    work_offset: int
    pick_up: str
    stock_in: str
    zero_mm: Vector | None = None
    along_x: str = ""
    pick_up_by: str = ""
    held_in: HeldIn = HeldIn.VISE
    cautions: tuple[str, ...] = ()


def holding(index: int, up: str, part: Box, blank_mm: Vector, rules: PlanRules, stand: Stand | None = None) -> Holding:
    """The index-th setup, counted from 0, with this side up. part: its box in the model's coordinates.

    The first holds the raw sides. Later ones hold what is flat and opposite where the jaws are, as far as the faces of
    the model are known (stand); else the sides of the box are taken for flat. By habit the zero is in the middle of
    what is up, which the jaws close on from both sides, so that a blank sawn a little large or small shifts nothing.
    """
    is_first = index == 0
    sizes = blank_mm if is_first else _sizes(part)
    if not is_first and stand is not None and stand.is_known:
        how = _on_faces(up, sizes, rules, stand)
    else:
        how = _on_box(up, sizes, rules, "the raw sides" if is_first else "the finished sides")
    is_nested = how.held_in is HeldIn.SOFT_JAWS
    zero = (
        zero_of_blank(up, part) if is_first else zero_of_part(up, how.along_x, part, stand, rules, is_nested=is_nested)
    )
    return Holding(
        workholding=how.words,
        grip_mm=how.grip_mm,
        work_offset=min(index + 1, MOST_WORK_OFFSETS),
        pick_up=zero.how,
        stock_in="sawn blank" if is_first else "from the setup before",
        zero_mm=zero.at_mm,
        along_x=how.along_x,
        pick_up_by=zero.by,
        held_in=how.held_in,
        cautions=(*how.cautions, *filter(None, [zero.caution])),
    )


@dataclass(frozen=True)
class _How:
    words: str
    grip_mm: float | None
    along_x: str
    held_in: HeldIn
    cautions: tuple[str, ...] = ()


def _on_box(up: str, sizes: Vector, rules: PlanRules, held_on: str) -> _How:
    """Across the shorter side, so that the long side lies along the jaw."""
    axis = _shorter(up, sizes)
    along_x = long_side_along_x(up, sizes)
    if sizes[axis] > rules.widest_in_vise_mm:
        return _clamped(along_x, ())
    return _How(_in_vise(rules.grip_mm, axis, sizes[axis], held_on, rules), rules.grip_mm, along_x, HeldIn.VISE)


def _on_faces(up: str, sizes: Vector, rules: PlanRules, stand: Stand) -> _How:
    """In the vise where two flat sides lie opposite down at the jaws; else in soft jaws, or clamped where it is wide or
    stands higher than any grip holds.
    """
    axis, tall = _shorter(up, sizes), sizes[height_axis(up)]
    least = min(rules.grip_mm, round(tall / 2, 1))
    found = [one for one in clasps(stand, least) if one.apart_mm <= rules.widest_in_vise_mm]
    found.sort(key=lambda one: (round(one.apart_mm, 2), one.axis != axis))
    thin = (_thin(least, tall, rules),) if least < rules.grip_mm else ()
    rocks = thin if stand.stands_flat else (*thin, f"stands on little that is flat: {_under(found)}.")
    if sizes[axis] > rules.widest_in_vise_mm or tall > (1 + rules.depth_to_grip) * _deepest(rules):
        upright = (f"stands {rules.say(tall)} high: clamp it to an angle plate.",) if tall > 2 * sizes[axis] else ()
        return _clamped(_along(up, axis, stand), (*rocks, *upright))
    if found:
        return _closed_on(found[0], up, least, rules, stand, rocks, is_other=found[0].axis != axis)
    return _in_soft_jaws(up, axis, least, rules, stand, thin)


def _closed_on(
    clasp: Clasp, up: str, least_mm: float, rules: PlanRules, stand: Stand, cautions: tuple[str, ...], *, is_other: bool
) -> _How:
    """As deep as the part's height asks for, unless something is cut down there."""
    tall = stand.reading.bbox_mm[height_axis(up)]
    cut_to = outside_cut_mm(stand, clasp.axis, inside_faces(stand.reading))
    room = min(clasp.to_mm, (cut_to or tall) - rules.over_jaws_mm)
    grip = max(_up(clasp.from_mm + least_mm), min(_for_height(tall, rules), floor(room)))
    said = list(cautions)
    across = LETTERS[clasp.axis]
    if is_other:
        said.append(f"closes across {across}: the nearer two sides are not flat and opposite down at the jaws.")
    if clasp.from_mm > 0:
        said.append(f"grips {rules.say(grip)}, because its sides are flat only from {rules.say(clasp.from_mm)} up.")
    if cut_to is not None and grip + rules.over_jaws_mm > cut_to + 1e-6:
        said.append(
            f"cuts a side down to {rules.say(cut_to)} over the underside, and the jaws cover {rules.say(grip)}: cut "
            f"it to {rules.say(grip + rules.over_jaws_mm)} here and the rest in another setup, or hold it lower."
        )
    words = _in_vise(grip, clasp.axis, clasp.apart_mm, "the finished sides", rules)
    return _How(words, grip, _along(up, clasp.axis, stand), HeldIn.VISE, tuple(said))


def _in_soft_jaws(
    up: str, axis: int, least_mm: float, rules: PlanRules, stand: Stand, cautions: tuple[str, ...]
) -> _How:
    """Cut to what is there: a bore for a round part, else its outline."""
    across = round_outside_mm(stand)
    shape = f"bored to ⌀{rules.say(across)}" if across else "cut to the part's shape"
    words = f"soft jaws {shape}, closing across {LETTERS[axis]}, {rules.say(stand.reading.bbox_mm[axis])} apart"
    other = "or set it in a V-block" if across else "or make it a fixture"
    caution = f"needs soft jaws: no two flat sides lie opposite down at the jaws. Name a set on the setup, {other}."
    cut_to = outside_cut_mm(stand, axis, inside_faces(stand.reading))
    tall = stand.reading.bbox_mm[height_axis(up)]
    grip = max(least_mm, min(_for_height(tall, rules), floor((cut_to or tall) - rules.over_jaws_mm)))
    return _How(words, grip, _along(up, axis, stand), HeldIn.SOFT_JAWS, (*cautions, caution))


def _for_height(tall_mm: float, rules: PlanRules) -> float:
    """The grip that the part's height asks for, in whole millimetres, as far as jaws are deep."""
    return min(ceil(tall_mm / (1 + rules.depth_to_grip)), _deepest(rules))


def _deepest(rules: PlanRules) -> float:
    return rules.jaw_height_mm - LEAST_UNDER_JAWS_MM


def _up(length_mm: float) -> float:
    """To the next half of a millimetre."""
    return ceil(2 * length_mm - 1e-6) / 2


def _clamped(along_x: str, cautions: tuple[str, ...]) -> _How:
    words = "clamped to the table on parallels; the clamps move once while the part is cut"
    return _How(words, None, along_x, HeldIn.CLAMPS, cautions)


def _in_vise(grip_mm: float, axis: int, width_mm: float, held_on: str, rules: PlanRules) -> str:
    parallels = rules.say(max(0.0, rules.jaw_height_mm - grip_mm))
    return f"vise on parallels {parallels} high, jaws on {held_on} across {LETTERS[axis]}, {rules.say(width_mm)} apart"


def _thin(grip_mm: float, tall_mm: float, rules: PlanRules) -> str:
    held = f"grips only {rules.say(grip_mm)} of a part that is {rules.say(tall_mm)} high"
    return f"{held}: a step in soft jaws, tape or a vacuum plate may hold it better."


def _under(found: list[Clasp]) -> str:
    return "set jacks or a nest under it" if found else "shim it where it is clamped, or make it a nest"


def _along(up: str, jaws: int, stand: Stand) -> str:
    """The way along X+ that leaves the jaws to close along Y: of the two, the one that puts more datums of the print
    on the fixed jaw at the back and on the stop at an end."""
    (run,) = set(flat_axes(up)) - {jaws}

    def served(along_x: str) -> int:
        seen = facing(up, along_x)
        return sum(bool(datums_on([side], stand.reading)) for side in (seen.back, seen.left))

    return max((f"+{LETTERS[run]}", f"-{LETTERS[run]}"), key=served)


def _sizes(box: Box) -> Vector:
    (a, b, c), (d, e, f) = box
    return d - a, e - b, f - c


def _shorter(up: str, sizes_mm: Vector) -> int:
    """The shorter of the two axes that lie flat."""
    first, second = flat_axes(up)
    return min((second, first), key=lambda flat: sizes_mm[flat])
