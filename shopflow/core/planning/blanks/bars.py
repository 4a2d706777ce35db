"""Bars, plates and rounds: whether a blank comes out of one, and how."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from math import hypot, pi, sqrt

from shopflow.core.types import Vector

SAME_MM = 1e-6
IN = 25.4


class Section(StrEnum):
    PLATE = "plate"
    FLAT = "flat bar"
    ROUND = "round bar"
    HEXAGON = "hexagon bar"


@dataclass(frozen=True)
class Bar:
    """One entry of the shop's stock list; lengths mm.

    thickness_mm: of a plate or flat; a round's diameter, a hexagon's size across flats. width_mm: of a plate or flat,
    else 0. minus_mm: how much thinner and narrower it may come. on_rack: how many there are. price: of one, None where
    unknown. is_clean: its end is sawn already, so that no stub comes off. heat, place, owner: "" where there is none.
    behind: whose pieces come off first, where this is the rest of a bar that is reserved and not yet sawn.
    """

    key: str
    section: Section
    thickness_mm: float
    width_mm: float
    length_mm: float
    on_rack: int = 0
    kerf_mm: float = 2.0
    minus_mm: float = 0.0
    price: float | None = None
    heat: str = ""
    place: str = ""
    owner: str = ""
    is_clean: bool = False
    behind: str = ""

    @property
    def area_mm2(self) -> float:
        """Of its section."""
        if self.section is Section.ROUND:
            return pi / 4 * self.thickness_mm**2
        if self.section is Section.HEXAGON:
            return sqrt(3) / 2 * self.thickness_mm**2
        return self.thickness_mm * self.width_mm

    @property
    def kind(self) -> tuple[Section, float, float]:
        """What bars of one section share, whatever their heat and length."""
        return self.section, round(self.thickness_mm, 3), round(self.width_mm, 3)


@dataclass(frozen=True)
class Way:
    """How a blank lies in a bar. along: the model's axis (0, 1, 2) along the bar. thick: the one across its thickness.

    size_mm: the sawn blank along the model's axes; of a round or hexagon the box around it. across: pieces side by
    side, which only a plate gives.
    """

    along: int
    thick: int
    size_mm: Vector
    across: int = 1

    @property
    def piece_mm(self) -> float:
        return self.size_mm[self.along]


def ways(need_mm: Vector, bar: Bar) -> list[Way]:
    """Every way in which a box of at least this size comes out of the bar; empty where it does not."""
    return [
        way for along in range(3) for thick in range(3) if along != thick for way in _way(need_mm, bar, along, thick)
    ]


def _way(need_mm: Vector, bar: Bar, along: int, thick: int) -> Iterator[Way]:
    wide = 3 - along - thick
    if need_mm[along] > bar.length_mm + SAME_MM:
        return
    t, w = need_mm[thick], need_mm[wide]
    if bar.section is Section.ROUND:
        if thick < wide and hypot(t, w) <= bar.thickness_mm - bar.minus_mm + SAME_MM:
            yield Way(along, thick, _size(need_mm, {thick: bar.thickness_mm, wide: bar.thickness_mm}))
    elif bar.section is Section.HEXAGON:
        if fits_hexagon(w, t, bar.thickness_mm - bar.minus_mm):
            yield Way(along, thick, _size(need_mm, {thick: bar.thickness_mm, wide: bar.thickness_mm * 2 / sqrt(3)}))
    elif t <= bar.thickness_mm - bar.minus_mm + SAME_MM and w <= bar.width_mm - bar.minus_mm + SAME_MM:
        yield _of_flat(need_mm, bar, along, thick, wide)


def _of_flat(need_mm: Vector, bar: Bar, along: int, thick: int, wide: int) -> Way:
    """A flat bar keeps its width; a plate is sawn to width as well, as often as it gives."""
    if bar.section is Section.FLAT:
        return Way(along, thick, _size(need_mm, {thick: bar.thickness_mm, wide: bar.width_mm}))
    across = pieces_across(bar.width_mm, need_mm[wide], bar.kerf_mm)
    return Way(along, thick, _size(need_mm, {thick: bar.thickness_mm}), across)


def pieces_across(width_mm: float, piece_mm: float, kerf_mm: float) -> int:
    """How many pieces lie side by side across a plate; one at least."""
    return max(1, int((width_mm + kerf_mm + SAME_MM) // (piece_mm + kerf_mm)))


def fits_hexagon(wide_mm: float, thick_mm: float, across_flats_mm: float) -> bool:
    """Whether a rectangle lies inside a hexagon with two of its sides along the flats.

    Its corner must lie under the flat above and inside the slanted one: a regular hexagon's normals are 60° apart.
    """
    under = thick_mm <= across_flats_mm + SAME_MM
    return under and sqrt(3) / 2 * wide_mm + thick_mm / 2 <= across_flats_mm + SAME_MM


def _size(need_mm: Vector, given: dict[int, float]) -> Vector:
    x, y, z = (given.get(axis, size) for axis, size in enumerate(need_mm))
    return x, y, z


COLD_FINISHED: dict[Section, tuple[tuple[float, float, float], ...]] = {
    Section.ROUND: ((0, 1.5, 0.002), (1.5, 2.5, 0.003), (4, 6, 0.005), (6, 8, 0.006), (8, 9, 0.007)),
    Section.HEXAGON: ((0.75, 1.5, 0.003), (1.5, 2.5, 0.004)),
    Section.FLAT: ((0, 0.75, 0.003), (1.5, 3, 0.005), (3, 4, 0.006), (4, 6, 0.008)),
}
"""Over, up to and including, how much less (inches), carbon up to 0.28 %: ASTM A108-03, table A1.1, as a bar maker
prints it. All of the tolerance is minus. Sizes between the rows were not to be read there and have no value here."""


def cold_finished_minus_mm(section: Section, size_mm: float) -> float | None:
    """How much smaller a cold-finished bar of low carbon steel may come; None where the table says nothing."""
    size = size_mm / IN
    rows = COLD_FINISHED.get(section, ())
    return next((less * IN for over, upto, less in rows if over < size - 1e-9 <= upto), None)


COMMON_THICK_IN = (1 / 8, 3 / 16, 1 / 4, 3 / 8, 1 / 2, 5 / 8, 3 / 4, 1, 5 / 4, 3 / 2, 2, 5 / 2, 3, 4)
COMMON_ROUND_IN = (
    1 / 8, 3 / 16, 1 / 4, 5 / 16, 3 / 8, 7 / 16, 1 / 2, 5 / 8, 3 / 4, 7 / 8, 1, 9 / 8, 5 / 4, 11 / 8, 3 / 2, 7 / 4, 2,
    9 / 4, 5 / 2, 3, 7 / 2, 4, 5, 6,
)  # fmt: skip
"""Plate thicknesses and round diameters of warehouses that sell by the inch: common practice, no source."""


def common_plate_mm(need_mm: Vector) -> float | None:
    """The thinnest common plate that the blank comes out of lying flat; None where it is thicker than all of them."""
    return next((size * IN for size in COMMON_THICK_IN if size * IN >= min(need_mm) - SAME_MM), None)


def common_round_mm(need_mm: Vector) -> float | None:
    """The thinnest common round that the blank comes out of with its longest side along it; None if none does."""
    short, middle, _long = sorted(need_mm)
    across = hypot(short, middle)
    return next((size * IN for size in COMMON_ROUND_IN if size * IN >= across - SAME_MM), None)
