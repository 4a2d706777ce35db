"""A blank as columns: a box or a round with the holes that it comes with, or a solid model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from numpy.typing import NDArray

from shopflow.core.errors import NotPossible
from shopflow.core.stock import shapes
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.from_mesh import from_mesh
from shopflow.core.stock.grid import Grid, other_axes
from shopflow.core.stock.shapes import Hole
from shopflow.core.types import Box


@dataclass(frozen=True)
class BlankForm:
    """What a blank is besides its box. round_along: axis of a round, 0 X to 2 Z, -1 for what is as its box. holes: that
    go through it when it comes. model: name of the solid that it is, such as a casting, in the part's coordinates; ""
    where it is a box or a round. Raises NotPossible where anything else is said of such a one."""

    round_along: int = -1
    holes: tuple[Hole, ...] = ()
    model: str = ""

    def __post_init__(self) -> None:
        if self.model and (self.round_along >= 0 or self.holes):
            raise NotPossible("A blank given by a model has its shape and its holes from there: say neither beside it.")


PLAIN = BlankForm()


@dataclass(frozen=True)
class BlankMesh:
    """The solid that a blank is. points: (p, 3) mm, in the part's coordinates; triangles: (t, 3) point numbers."""

    points: NDArray[Any]
    triangles: NDArray[Any]

    @property
    def box(self) -> Box:
        low, high = self.points.min(axis=0).tolist(), self.points.max(axis=0).tolist()
        return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def one_size(largest: Box, smallest: Box, form: BlankForm) -> None:
    """Raise NotPossible where a blank given by a model is said to differ in size: its surface is known, not how far
    another one of the lot lies from it."""
    if form.model and largest != smallest:
        raise NotPossible(
            "A blank given by a model has one size. Take the ± away, or give a box that holds the largest and the "
            "smallest blank."
        )


def blank_columns(grid: Grid, solid: Box, form: BlankForm = PLAIN, mesh: BlankMesh | None = None) -> Columns:
    """A blank in this box; a round touches it all around. mesh: of the blank where `form` names a model.

    Raises NotPossible where the mesh of a named model is not there, Unreadable where it is not closed.
    """
    if form.model:
        if mesh is None:
            raise NotPossible(f"The model of the blank, {form.model}, is not there.")
        return from_mesh(grid, mesh.points, mesh.triangles)
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
