"""How the part stands on the machine, and where its zero is: from two directions and a point to a placement and words.

Sides are named as the machinist sees them from the front of the machine: left and right along X, front and back along
Y, top and bottom along Z. Points are in the model's own coordinates, mm, wherever nothing else is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from shopflow.core.orientation import SQUARE, Angles, NotSquare, rotation
from shopflow.core.planning.directions import AXES, along, flat_axes, height_axis
from shopflow.core.solid.reading import Hole
from shopflow.core.types import Box, Placement, Vector

__all__ = [
    "SQUARE", "Angles", "NotSquare", "Reference", "Standing", "blank_box", "directions_along_x", "long_side_along_x",
    "middle_of_top", "placement", "rotation", "turn", "turn_back", "turned_box",
]  # fmt: skip

SAME_MM = 0.001
"""Places closer than this are one: zeros are written to the thousandth of a millimetre or better."""
SIDES = (("left", "middle", "right"), ("front", "middle", "back"), ("bottom", "middle", "top"))
"""By machine axis, from low to high."""
HEIGHTS = ("top", "bottom")
PART, BLANK, BOTH = "part", "blank", "blank and part"


def directions_along_x(up: str) -> list[str]:
    """The four axes of the model that may lie along the machine's X+ when this side is up."""
    return [name for name in AXES if name[1] != up[1]]


def placement(up: str, along_x: str, zero_mm: Vector, angles: Angles = SQUARE) -> Placement:
    """Where the part sits in a setup whose own origin is this point of the model. Raises NotSquare."""
    turned = rotation(up, along_x, angles)
    x, y, z = turn(turned, zero_mm)
    return Placement(turned, (0.0 - x, 0.0 - y, 0.0 - z))  # 0.0 - x: no minus before a zero


def turn(rows: Sequence[float], point: Vector) -> Vector:
    """rotation · point."""
    return (_dot(rows[0:3], point), _dot(rows[3:6], point), _dot(rows[6:9], point))


def turn_back(rows: Sequence[float], point: Vector) -> Vector:
    """The inverse of turn."""
    return (_dot(rows[0::3], point), _dot(rows[1::3], point), _dot(rows[2::3], point))


def turned_box(rows: Sequence[float], box: Box) -> Box:
    """The box around a box that was turned; after right angles that is the box itself."""
    corners = [turn(rows, _vector(box[bit >> axis & 1][axis] for axis in range(3))) for bit in range(8)]
    by_axis = list(zip(*corners, strict=True))
    return _vector(map(min, by_axis)), _vector(map(max, by_axis))


def long_side_along_x(up: str, sizes_mm: Vector) -> str:
    """The house habit: the longer of the two sides that lie flat lies along X, as along the jaws of the vise."""
    first, second = flat_axes(up)
    return f"+{'XYZ'[first if sizes_mm[first] >= sizes_mm[second] else second]}"


def middle_of_top(up: str, part: Box) -> Vector:
    """The middle of the side of the part's box that looks up."""
    low, high = part
    height = height_axis(up)
    middle = [(a + b) / 2 for a, b in zip(low, high, strict=True)]
    middle[height] = (high if up[0] == "+" else low)[height]
    return _vector(middle)


def blank_box(part: Box, size_mm: Vector, up: str, over_mm: float) -> Box:
    """Where the blank lies: centred sideways on the part's box, over_mm above it on the side that looks up."""
    (low, high), height = part, height_axis(up)
    bottom = [(a + b - size) / 2 for a, b, size in zip(low, high, size_mm, strict=True)]
    over = high[height] + over_mm - size_mm[height] if up[0] == "+" else low[height] - over_mm
    bottom[height] = over
    return _vector(bottom), _vector(a + size for a, size in zip(bottom, size_mm, strict=True))


@dataclass(frozen=True)
class Reference:
    """What one coordinate of the zero lies on, as the machinist would find it.

    side: a name of SIDES, or "centre" of a hole. of: PART, BLANK, BOTH or HOLE keys. off_mm: how far the zero lies from
    it towards plus; 0 on it. diameter_mm: of a hole.
    """

    side: str
    of: str
    off_mm: float = 0.0
    diameter_mm: float = 0.0


@dataclass(frozen=True)
class Standing:
    """The part as it stands in one setup, with the places that a zero is usually put on.

    part, blank: boxes in the model's coordinates. holes: all of the model's; only upright ones are places. angles: by
    which it stands otherwise than by right angles: sides of a box are then no places, and heights only where it is not
    tilted.
    """

    up: str
    along_x: str
    part: Box
    blank: Box | None = None
    holes: tuple[Hole, ...] = field(default=(), repr=False)
    angles: Angles = SQUARE

    @cached_property
    def rows(self) -> tuple[float, ...]:
        return rotation(self.up, self.along_x, self.angles)

    @cached_property
    def has_sides(self) -> bool:
        """Whether the sides of the boxes look along the machine's axes."""
        return all(_same(abs(value), round(abs(value))) for value in self.rows)

    @cached_property
    def has_heights(self) -> bool:
        """Whether a side of the boxes looks up."""
        return _same(max(map(abs, self.rows[6:9])), 1.0)

    @cached_property
    def boxes(self) -> dict[str, Box]:
        """Part and blank as the machine sees them."""
        found = {PART: self.part} | ({BLANK: self.blank} if self.blank else {})
        return {name: turned_box(self.rows, box) for name, box in found.items()}

    @cached_property
    def upright_holes(self) -> dict[str, Hole]:
        """One hole for each centre, by the key of its place."""
        found: dict[tuple[float, float], tuple[str, Hole]] = {}
        for number, hole in enumerate(self.holes, start=1):
            if abs(along(hole.axis, _vector(self.rows[6:9]))) > 1 - SAME_MM:
                x, y, _ = turn(self.rows, hole.position_mm)
                found.setdefault((round(x, 3), round(y, 3)), (f"hole {number}", hole))
        return dict(found.values())

    @cached_property
    def flat_places(self) -> dict[str, tuple[float, float]]:
        """X and Y of each named place, in the turned axes: nine on the part, nine on the blank, the holes' centres."""
        nine = {
            f"{name} {x_side} {y_side}": (x, y)
            for name, box in (self.boxes.items() if self.has_sides else ())
            for y_side, y in _sides(box, 1)
            for x_side, x in _sides(box, 0)
        }
        centres = {key: turn(self.rows, hole.position_mm)[:2] for key, hole in self.upright_holes.items()}
        return nine | centres

    @cached_property
    def heights(self) -> dict[str, float]:
        """Z of each named height, in the turned axes."""
        boxes = self.boxes.items() if self.has_heights else ()
        return {f"{name} {side}": z for name, box in boxes for side, z in _sides(box, 2) if side in HEIGHTS}

    def point(self, flat: str, height: str) -> Vector:
        """The point of the model at a named place. Raises KeyError for a name that this part does not have."""
        return turn_back(self.rows, (*self.flat_places[flat], self.heights[height]))

    def named(self, zero_mm: Vector) -> tuple[str, str]:
        """The names of the place that a zero lies on, the part's before the blank's; "" where it lies on none."""
        x, y, z = turn(self.rows, zero_mm)
        flat = (key for key, (a, b) in self.flat_places.items() if _same(a, x) and _same(b, y))
        height = (key for key, level in self.heights.items() if _same(level, z))
        return next(flat, ""), next(height, "")

    def references(self, zero_mm: Vector) -> tuple[Reference, Reference, Reference] | None:
        """What X0, Y0 and Z0 lie on, each by itself; None where the part stands aslant and they are no such things."""
        seen = turn(self.rows, zero_mm)
        hole = self._hole_at(seen)
        if not (self.has_sides or (hole and self.has_heights)):
            return None
        if hole:
            x = y = Reference("centre", "hole", diameter_mm=hole.diameter_mm)
        else:
            x, y = self._reference(0, seen[0]), self._reference(1, seen[1])
        return x, y, self._reference(2, seen[2])

    def _hole_at(self, seen: Vector) -> Hole | None:
        """The hole whose centre the zero is, unless the part's or the blank's own places say it."""
        key, _ = self.named(turn_back(self.rows, seen))
        return self.upright_holes.get(key)

    def _reference(self, axis: int, at: float) -> Reference:
        on = {name: side for name, box in self.boxes.items() for side, level in _sides(box, axis) if _same(level, at)}
        if PART in on:
            is_both = on.get(BLANK) == on[PART] == "middle"
            return Reference(on[PART], BOTH if is_both else PART)
        if BLANK in on:
            return Reference(on[BLANK], BLANK)
        side, level = min(_sides(self.boxes[PART], axis), key=lambda pair: abs(pair[1] - at))
        return Reference(side, PART, off_mm=at - level)


def _sides(box: Box, axis: int) -> Iterator[tuple[str, float]]:
    low, high = box[0][axis], box[1][axis]
    return zip(SIDES[axis], (low, (low + high) / 2, high), strict=True)


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= SAME_MM


def _dot(a: Sequence[float], b: Sequence[float]) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _vector(values: Sequence[float] | Iterator[float]) -> Vector:
    x, y, z = values
    return x, y, z
