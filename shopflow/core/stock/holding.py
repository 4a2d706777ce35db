"""Workholding as simple solids in the coordinates of a setup: jaws, parallels, bed, and boxes of a person's own.

A tool with shank and holder reaches up without end, so that it is in a solid wherever its lowest part is below the top
of it; only what ends above, an undercut cutter, goes by under the bottom of one that overhangs.
"""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.core.types import Box, Vector


@dataclass(frozen=True)
class Solid:
    """What must not be touched. name: in words. box: mm, in the coordinates of the motions."""

    name: str
    box: Box


@dataclass(frozen=True)
class Vise:
    """A vise as a plan says it, mm. jaws_along: 0 where the jaws run along the machine's X, 1 along Y.

    grip_mm: height of stock between the jaws. jaw_length_mm: along them; jaw_thick_mm: across. parallel_height_mm,
    parallel_thick_mm: of the two parallels under the stock, one at each jaw; 0 where it stands on the bed.
    """

    jaws_along: int
    grip_mm: float
    jaw_length_mm: float
    jaw_thick_mm: float
    parallel_height_mm: float = 0.0
    parallel_thick_mm: float = 0.0


def vise_solids(vise: Vise, stock: Box) -> tuple[Solid, ...]:
    """Jaws that close on a stock in this box, their middle at its middle, the parallels, and the bed under all."""
    low, high = stock
    across = 1 - vise.jaws_along
    floor = low[2]
    bed = floor - vise.parallel_height_mm
    top = floor + vise.grip_mm
    outer = low[across] - vise.jaw_thick_mm, high[across] + vise.jaw_thick_mm
    solids = [
        Solid("front jaw" if across == 1 else "left jaw", _bar(vise, stock, (outer[0], low[across]), bed, top)),
        Solid("back jaw" if across == 1 else "right jaw", _bar(vise, stock, (high[across], outer[1]), bed, top)),
    ]
    if vise.parallel_height_mm > 0.0 and vise.parallel_thick_mm > 0.0:
        inner = low[across] + vise.parallel_thick_mm, high[across] - vise.parallel_thick_mm
        solids += [
            Solid("parallel", _bar(vise, stock, (low[across], inner[0]), bed, floor)),
            Solid("parallel", _bar(vise, stock, (inner[1], high[across]), bed, floor)),
        ]
    return (*solids, Solid("bed of the vise", _bar(vise, stock, outer, bed - 1.0, bed)))


def table(stock: Box, under_mm: float, beyond_mm: float = 1000.0) -> Solid:
    """The machine's table under a stock that stands that high over it, as far as tools go beside it."""
    low, high = stock
    level = low[2] - under_mm
    corner: Vector = (low[0] - beyond_mm, low[1] - beyond_mm, level - 1.0)
    return Solid("table", (corner, (high[0] + beyond_mm, high[1] + beyond_mm, level)))


def _bar(vise: Vise, stock: Box, across: tuple[float, float], bottom: float, top: float) -> Box:
    """A bar as long as the jaws, from one place across them to another."""
    along = vise.jaws_along
    middle = (stock[0][along] + stock[1][along]) / 2.0
    ends = middle - vise.jaw_length_mm / 2.0, middle + vise.jaw_length_mm / 2.0
    x, y = (ends, across) if along == 0 else (across, ends)
    return (x[0], y[0], bottom), (x[1], y[1], top)
