"""A blank as a range of sizes: the largest for clearance, the smallest for clean-up."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.core.errors import NotPossible
from shopflow.core.stock import shapes
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.grid import Grid, other_axes
from shopflow.core.stock.shapes import Hole
from shopflow.core.types import Blank, BlankShape, Box, Vector


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


@dataclass(frozen=True)
class BlankRange:
    """The same blank at both ends of its range, on one grid. Where both are equal, smallest is largest."""

    largest: Columns
    smallest: Columns

    @property
    def states(self) -> tuple[Columns, ...]:
        """What has to be simulated: one state, or two."""
        return (self.largest,) if self.smallest is self.largest else (self.largest, self.smallest)


def largest_box(blank: Blank) -> Box:
    """The box around the largest blank, part coordinates, mm."""
    return blank.position_mm, _corner(blank.position_mm, blank.largest_mm)


def smallest_box(blank: Blank, floor_share: float = 0.5) -> Box:
    """The box around the smallest blank.

    It stands in the largest one: across it in the middle, since sawn allowance is shared, and along Z with the share of
    the difference below it that floor_share says (0 where both stand on the same parallels).
    """
    spare = [large - small for large, small in zip(blank.largest_mm, blank.smallest_mm, strict=True)]
    if min(spare) < -1e-9 or min(blank.smallest_mm) <= 0.0:
        raise NotPossible("The smallest blank must be above 0 and not larger than the largest in any direction.")
    shares = (0.5, 0.5, floor_share)
    low = _corner(blank.position_mm, (spare[0] * shares[0], spare[1] * shares[1], spare[2] * shares[2]))
    return low, _corner(low, blank.smallest_mm)


def blank_range(grid: Grid, blank: Blank, floor_share: float = 0.5) -> BlankRange:
    """Both ends of a box or a round; a blank from a model is made by `from_mesh` instead."""
    if blank.shape is BlankShape.MODEL:
        raise NotPossible("A blank from a model needs the model's mesh; make its columns from that.")
    largest = _solid(grid, blank.shape, largest_box(blank))
    if blank.smallest_mm == blank.largest_mm:
        return BlankRange(largest, largest)
    return BlankRange(largest, _solid(grid, blank.shape, smallest_box(blank, floor_share)))


def _solid(grid: Grid, shape: BlankShape, solid: Box) -> Columns:
    low, high = solid
    if shape is BlankShape.BOX:
        return shapes.box(grid, solid)
    middle = ((low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0)
    return shapes.round_bar(grid, middle, high[0] - low[0], (low[2], high[2]))


def _corner(low: Vector, size: Vector) -> Vector:
    return (low[0] + size[0], low[1] + size[1], low[2] + size[2])
