"""A blank as columns: a box or a round, with the holes that it comes with."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.core.stock import shapes
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.grid import Grid, other_axes
from shopflow.core.stock.shapes import Hole
from shopflow.core.types import Box


@dataclass(frozen=True)
class BlankForm:
    """What a blank is besides its box. round_along: axis of a round, 0 X to 2 Z, -1 for what is as its box. holes: that
    go through it when it comes."""

    round_along: int = -1
    holes: tuple[Hole, ...] = ()


PLAIN = BlankForm()


def blank_columns(grid: Grid, solid: Box, form: BlankForm = PLAIN) -> Columns:
    """A blank in this box; a round touches it all around."""
    axis = form.round_along
    if axis < 0:
        return shapes.plate(grid, solid, form.holes)
    low, high = solid
    first, second = other_axes(axis)
    middle = (low[first] + high[first]) / 2.0, (low[second] + high[second]) / 2.0
    across = min(high[first] - low[first], high[second] - low[second])
    made = shapes.round_bar(grid, middle, across, (low[axis], high[axis]), axis)
    for hole in form.holes:
        made = shapes.drilled(made, hole)
    return made
