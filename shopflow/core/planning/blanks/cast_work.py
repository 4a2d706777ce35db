"""What setups cut of a blank that is a solid of its own, how it is held, and what to say of it.

Volumes add up: what facing, the outside, pockets and holes do not account for of the difference between blank and part
is roughed inside the outline, as far as the setups have anything to rough there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import pi, sqrt

from shopflow.core.planning.blanks.blank import BlankProposal, StockIn
from shopflow.core.planning.blanks.cast import TO_SIZE_MM, Cast
from shopflow.core.planning.clamping.facing import said as side_said
from shopflow.core.planning.clamping.holding import HeldIn, Holding
from shopflow.core.planning.directions import AXES, flat_axes, height_axis, is_same_way, opposite
from shopflow.core.planning.needs import Need
from shopflow.core.planning.side_work import SideWork, pocket_mm3
from shopflow.core.solid.reading import Hole, Pocket, Reading

FLAT_SHARE = 0.1
"""Share of the blank's box from which jaws close on a flat side of it (common practice, no source)."""


def cast_work(works: Sequence[SideWork], part: Reading, cast: Cast, stocks: Sequence[StockIn]) -> list[SideWork]:
    """The same setups, with what the blank has of it taken off."""
    both = zip(works, stocks, strict=True)
    cut = [_of_side(work, part, cast, stock, is_first=n == 0) for n, (work, stock) in enumerate(both)]
    left = cast.blank.volume_mm3 - part.volume_mm3 - sum(named_mm3(work, cast) for work in cut)
    whole = sum(work.inside_mm3 for work in works)
    return [
        replace(work, inside_mm3=max(left, 0.0) * before.inside_mm3 / whole if whole > 0 else 0.0)
        for before, work in zip(works, cut, strict=True)
    ]


def cast_blank(part: Reading, cast: Cast) -> BlankProposal:
    """Its box, with the yield of its own volume."""
    share = part.volume_mm3 / cast.blank.volume_mm3 if cast.blank.volume_mm3 > 0 else 1.0
    return BlankProposal(cast.size_mm, share, cast.size_mm)


def cast_stock(ups: Sequence[str], part: Reading, cast: Cast) -> StockIn:
    """Of the last of these setups, by the sides that are up: the blank; later the part, with what stands under it until
    it is turned over.
    """
    first, up = ups[0], ups[-1]
    if len(ups) == 1:
        return StockIn(cast.size_mm, max(cast.over_mm[up], 0.0))
    under = opposite(first)
    stands = max(cast.over_mm[under], 0.0) if under not in ups[:-1] else 0.0
    height = height_axis(under)
    x, y, z = (size + stands if axis == height else size for axis, size in enumerate(part.bbox_mm))
    return StockIn((x, y, z), stands if up == under else 0.0)


def _of_side(work: SideWork, part: Reading, cast: Cast, stock: StockIn, *, is_first: bool) -> SideWork:
    over = stock.over_mm
    pockets = tuple(left for pocket in work.pockets if (left := _pocket_left(pocket, cast)) is not None)
    is_faced = work.facing_mm2 > 0 and over > TO_SIZE_MM
    made = replace(work, pockets=pockets, facing_mm2=_face_mm2(work.up, cast) if is_faced else 0.0)
    made = replace(made, facing_depth_mm=over if is_faced else 0.0, facing_width_mm=_narrow_mm(work.up, cast))
    if not is_first:
        return made
    lengths = _outline(work.up, part, cast)
    allowance = max((over_mm for _length, over_mm in lengths), default=0.0)
    walls = work.wall_mm2 * sum(length for length, _ in lengths) / work.outline_mm if work.outline_mm else 0.0
    return replace(made, outline_mm=sum(length for length, _ in lengths), allowance_mm=allowance, wall_mm2=walls)


def _pocket_left(pocket: Pocket, cast: Cast) -> Pocket | None:
    left = cast.left_mm3(pocket)
    return replace(pocket, volume_mm3=left) if left > (pocket_mm3(pocket) or 0.0) * 1e-6 else None


def _face_mm2(up: str, cast: Cast) -> float:
    """Of the blank's outermost faces there; of one that is nowhere flat, its box."""
    a, b = (cast.size_mm[axis] for axis in flat_axes(up))
    return min(_outermost_mm2(up, cast) or a * b, a * b)


def _narrow_mm(up: str, cast: Cast) -> float:
    return min(*(cast.size_mm[axis] for axis in flat_axes(up)), sqrt(_face_mm2(up, cast)))


def _outline(up: str, part: Reading, cast: Cast) -> list[tuple[float, float]]:
    """Lengths of the sides that have stock, each with how much."""
    first, second = flat_axes(up)
    found = []
    for side in AXES:
        axis = height_axis(side)
        if axis in (first, second) and cast.over_mm[side] > TO_SIZE_MM:
            found.append((part.bbox_mm[second if axis == first else first], cast.over_mm[side]))
    return found


def named_mm3(work: SideWork, cast: Cast) -> float:
    """What facing, the outside, pockets and holes of a setup take, mm³."""
    ends = (AXES[work.up], AXES[opposite(work.up)])
    open_mm2 = sum(pi / 4 * h.diameter_mm**2 for h in cast.blank.holes if any(is_same_way(h.axis, end) for end in ends))
    faced = max(work.facing_mm2 - open_mm2, 0.0) * work.facing_depth_mm
    outside = work.outline_mm * work.allowance_mm * work.depth_mm
    holes = sum(pi / 4 * max(h.diameter_mm**2 - cast.cored_mm(h) ** 2, 0.0) * h.depth_mm for h in work.holes)
    return faced + outside + holes + sum(pocket_mm3(pocket) for pocket in work.pockets)


def held_as_cast(held: Holding, up: str, cast: Cast) -> Holding:
    """The first setup: by flat sides where the blank has them, else on three points."""
    said = replace(held, stock_in="the blank as its model is")
    if held.grip_mm is not None and _has_flat_sides(up, cast):
        return replace(said, workholding=held.workholding.replace("the raw sides", "the flat sides of the blank"))
    words = "on three points under it, clamped over them; or in soft jaws or a fixture cut to its shape"
    pick_up = "from the points that the drawing of the blank names, so that stock lies evenly round the part"
    return replace(said, workholding=words, grip_mm=None, pick_up=pick_up, held_in=HeldIn.CLAMPS)


def _has_flat_sides(up: str, cast: Cast) -> bool:
    """Two flat sides across the shorter way, opposite each other and large enough."""
    first, second = flat_axes(up)
    across = min((second, first), key=lambda axis: cast.size_mm[axis])
    long_mm = cast.size_mm[first if across == second else second]
    least = FLAT_SHARE * long_mm * cast.size_mm[height_axis(up)]
    sides = [side for side in AXES if height_axis(side) == across]
    return all(_outermost_mm2(side, cast) >= least for side in sides)


def _outermost_mm2(side: str, cast: Cast) -> float:
    groups = [group for group in cast.blank.planes if is_same_way(group.direction, AXES[side])]
    return max((group.levels[0].area_mm2 for group in groups if group.levels), default=0.0)


def cast_notes(
    needs: Sequence[Need], there: Sequence[Need], cast: Cast | None, say: Callable[[float], str]
) -> list[str]:
    """Where the blank has no stock or too little, what it has already, and where the part stands out of it."""
    if cast is None:
        return []
    said = []
    if there:
        words = "; ".join(dict.fromkeys(need.what for need in there)).replace(" -", " \u2212")
        said.append(f"The blank has this already, and nothing is planned for it: {words}.")
    bare = [side for side in AXES if abs(cast.over_mm[side]) <= TO_SIZE_MM]
    if bare:
        said.append(f"No stock stands over {_sides(bare)}: add it to the blank where it is to be machined.")
    wide = dict.fromkeys(
        need.what for need in needs if isinstance(need.feature, Hole) and cast.is_too_wide(need.feature)
    )
    said += [f"The blank's own hole is wider than the finished one: {what}." for what in wide]
    short = [side for side in AXES if cast.over_mm[side] < -TO_SIZE_MM]
    said += [f"The part stands {say(-cast.over_mm[side])} out of its blank at {_sides([side])}." for side in short]
    return said


def _sides(sides: Sequence[str]) -> str:
    return ", ".join(map(side_said, sides))
