"""The raw piece: the part's box with stock to cut on every side and to hold below."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from shopflow.core.planning.directions import flat_axes, height_axis
from shopflow.core.planning.rules import PlanRules
from shopflow.core.types import Vector


@dataclass(frozen=True)
class BlankProposal:
    """A sawn block, along the model's X, Y and Z. need_mm: the least that the part needs. size_mm: what is clamped.

    yield_share: part volume over blank volume.
    """

    size_mm: Vector
    yield_share: float
    need_mm: Vector

    @property
    def volume_mm3(self) -> float:
        return self.size_mm[0] * self.size_mm[1] * self.size_mm[2]


def propose_blank(
    bbox_mm: Vector, volume_mm3: float, first_up: str, rules: PlanRules, sawn_mm: Vector | None = None
) -> BlankProposal:
    """Stock on the sides by the first setup's orientation: there, what is up is faced and what is down is held.

    sawn_mm: the blank as it comes off the bar that was picked, where one was.
    """
    size = [0.0, 0.0, 0.0]
    for axis in flat_axes(first_up):
        size[axis] = bbox_mm[axis] + 2 * rules.side_allowance_mm
    up = height_axis(first_up)
    size[up] = bbox_mm[up] + rules.top_allowance_mm + under_mm(rules)
    a, b, c = (_rounded_up(length, rules.size_step_mm) for length in size)
    x, y, z = sawn_mm or (a, b, c)
    return BlankProposal(size_mm=(x, y, z), yield_share=volume_mm3 / (x * y * z), need_mm=(a, b, c))


def under_mm(rules: PlanRules) -> float:
    """Stock under the part in the first setup: what the jaws hold and what keeps the cutter off them."""
    return rules.grip_mm + rules.over_jaws_mm


@dataclass(frozen=True)
class StockIn:
    """What a setup begins with, as a box. size_mm: along the model's axes. over_mm: how far it stands over the part."""

    size_mm: Vector
    over_mm: float


def stock_in(index: int, up: str, bbox_mm: Vector, blank_mm: Vector, rules: PlanRules) -> StockIn:
    """Of the index-th setup, counted from 0: the blank; turned over, what held it; then nothing is left on any side."""
    if index == 0:
        return StockIn(blank_mm, rules.top_allowance_mm)
    if index > 1:
        return StockIn(bbox_mm, 0.0)
    height = height_axis(up)
    under = blank_mm[height] - bbox_mm[height] - rules.top_allowance_mm
    x, y, z = (size + under if axis == height else size for axis, size in enumerate(bbox_mm))
    return StockIn((x, y, z), under)


def _rounded_up(length_mm: float, step_mm: float) -> float:
    return ceil(length_mm / step_mm - 1e-9) * step_mm
