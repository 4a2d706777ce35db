"""The outline from both sides, where no end mill of the crib reaches down the whole part but two sides together do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import floor

from shopflow.core.planning import picking
from shopflow.core.planning.blanks.blank import BlankProposal, StockIn
from shopflow.core.planning.directions import flat_axes, opposite
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.side_work import SideWork
from shopflow.core.types import Tool, ToolUse

OVERLAP_MM = 1.0
"""By which the second side cuts deeper than the first left it, so that no rib stays (common practice, no source)."""


def shared_outline(works: Sequence[SideWork], cribs: Sequence[Sequence[Tool]], blank: BlankProposal) -> list[SideWork]:
    """The first setup as deep as it reaches, the second, which turns the part over, the rest. Unchanged where the first
    reaches all of it, or both together do not: then a longer end mill is asked for. Unchanged too where a person picked
    the tools of one of them: what is cut there is that person's choice, so that both must have the same crib.
    """
    made = list(works)
    if len(made) < 2 or cribs[0] is not cribs[1]:
        return made
    if not made[0].outline_mm or made[1].up != opposite(made[0].up):
        return made
    first, second = made[0], made[1]
    deep, reach = first.depth_mm, floor(_reach_mm(cribs[0]))
    rest = deep - reach + OVERLAP_MM
    if reach >= deep or rest > _reach_mm(cribs[1]) or reach <= OVERLAP_MM:
        return made
    a, b = (blank.size_mm[axis] for axis in flat_axes(second.up))
    made[0] = replace(first, outline_depth_mm=float(reach), wall_mm2=first.wall_mm2 * reach / deep)
    made[1] = replace(
        second, outline_mm=first.outline_mm, allowance_mm=first.allowance_mm, outline_depth_mm=rest,
        wall_mm2=first.wall_mm2 * rest / deep, facing_mm2=a * b if second.facing_mm2 else 0.0,
        facing_width_mm=min(a, b),
    )  # fmt: skip
    return made


def stock_of_second(stock: StockIn, work: SideWork, blank: BlankProposal) -> StockIn:
    """As wide as the blank still, where the second setup cuts the rest of the outline."""
    if work.outline_depth_mm is None:
        return stock
    x, y, z = (blank.size_mm[axis] if axis in flat_axes(work.up) else size for axis, size in enumerate(stock.size_mm))
    return replace(stock, size_mm=(x, y, z))


def outline_note(works: Sequence[SideWork], rules: PlanRules) -> str:
    """What the first setup does about it: "cuts the outline …"; "" where it cuts all."""
    deep = works[0].outline_depth_mm if works else None
    if deep is None:
        return ""
    return (
        f"cuts the outline {rules.say(deep)} deep, as far as an end mill of the crib reaches, and the next setup the "
        "rest from the other side: keep the jaws below that line."
    )


def _reach_mm(crib: Sequence[Tool]) -> float:
    """How deep both roughing and finishing of a wall get."""
    return min(
        max((picking.reach_mm(tool) for tool in picking.end_mills(crib, use, 0.0)), default=0.0)
        for use in (ToolUse.ROUGH, ToolUse.WALL)
    )
