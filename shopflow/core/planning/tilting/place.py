"""Where the zero of a tilted clamping is, on edges that can be touched, and what of the part lies where.

An edge finder that stands upright touches a tilted block on the edge that stands out furthest to one side, and a height
gauge on its highest edge, at whatever angle the block stands. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from shopflow.core.planning.directions import AXES, SQUARE, along, name_of
from shopflow.core.planning.placement import turn, turn_back, turned_box
from shopflow.core.planning.tilting.angles import AtAngle
from shopflow.core.solid.reading import Reading
from shopflow.core.types import Box, Vector

AT_SIDE_MM = 0.01
BROKEN_EDGE_MM = 2.0
"""A side that ends so near to an edge is taken to go down to it (common practice, no source)."""


@dataclass(frozen=True)
class TiltedPart:
    """The finished part as it stands tilted. All heights and places mm, along the machine's axes."""

    stand: AtAngle
    reading: Reading

    @cached_property
    def rows(self) -> tuple[float, ...]:
        return self.stand.rows

    @cached_property
    def box(self) -> Box:
        """Round the tilted box, from the model's origin, along the machine's axes."""
        return turned_box(self.rows, (self.reading.box_min_mm, self.reading.box_max_mm))

    @property
    def height_mm(self) -> float:
        return self.box[1][2] - self.box[0][2]

    @property
    def is_about_y(self) -> bool:
        """Turned in one way only, so that the two sides along the turn stand upright."""
        return not self.stand.angles[0]

    @cached_property
    def outermost(self) -> str:
        """The side whose outermost edge X0 lies on: "left" or "right", a sharp one before others, then the higher."""
        return max(("left", "right"), key=lambda side: (self.is_sharp(self.corner(side)), self.edge_mm(side)))

    @cached_property
    def foremost(self) -> str:
        """The same along Y; "" where both sides stand upright and the middle between them is found."""
        if self.is_about_y:
            return ""
        return max(("front", "back"), key=lambda side: (self.is_sharp(self.corner(side)), self.edge_mm(side)))

    @property
    def zero_seen_mm(self) -> Vector:
        """X and Y of the outermost edges or of the middle, Z of the highest one."""
        low, high = self.box
        x = low[0] if self.outermost == "left" else high[0]
        ys = {"": (low[1] + high[1]) / 2, "front": low[1], "back": high[1]}
        return x, ys[self.foremost], high[2]

    @property
    def zero_mm(self) -> Vector:
        """The part zero in the model's coordinates."""
        return turn_back(self.rows, self.zero_seen_mm)

    def from_zero(self, point: Vector) -> Vector:
        """A point of the model from the part zero, along the machine's axes."""
        a, b = turn(self.rows, point), self.zero_seen_mm
        return a[0] - b[0], a[1] - b[1], a[2] - b[2]

    def over_bottom_mm(self, point: Vector) -> float:
        return turn(self.rows, point)[2] - self.box[0][2]

    def way(self, side: str) -> Vector:
        """A direction of the machine in the model."""
        row, sign = {"left": (0, -1), "right": (0, 1), "front": (1, -1), "back": (1, 1), "top": (2, 1)}[side]
        x, y, z = (sign * part for part in self.rows[3 * row : 3 * row + 3])
        return x, y, z

    def corner(self, side: str) -> tuple[str, ...]:
        """The sides of the part's box that meet where it stands out furthest this way: two at an edge, three at a
        corner."""
        way = self.way(side)
        return tuple(name for name, axis in AXES.items() if along(way, axis) > SQUARE)

    def edge_mm(self, side: str) -> float:
        """How high over the lowest point the edge lies that stands out this way; of a corner its own height."""
        way = self.way(side)
        low, high = self.reading.box_min_mm, self.reading.box_max_mm
        x, y, z = (b if part > 0 else a for part, a, b in zip(way, low, high, strict=True))
        return self.over_bottom_mm((x, y, z))

    def is_flat_at_lowest(self, side: str) -> bool:
        """Whether a plane face on this upright side of the part's box goes down to the lowest edge, where jaws hold it.

        A broken edge counts as none; of a reading that does not say how far faces reach, any plane face there does.
        """
        on_side = side_faces(self.reading, side)
        spans = [
            (face.low_mm, face.high_mm)
            for face in self.reading.faces
            if face.index in on_side and face.low_mm is not None and face.high_mm is not None
        ]
        box, down = (self.reading.box_min_mm, self.reading.box_max_mm), [part < 0 for part in self.way("top")]
        run = [axis for axis in range(3) if axis != "XYZ".index(side[1])]
        return any(
            all(abs(span[down[axis]][axis] - box[down[axis]][axis]) <= BROKEN_EDGE_MM for axis in run) for span in spans
        ) or (not spans and bool(on_side))

    def is_sharp(self, sides: Sequence[str]) -> bool:
        """Whether the model has a sharp edge where these sides of its box meet; of a corner, on one of its edges.

        A reading that lists no edges is taken to have them.
        """
        known = self.reading.sharp_edges.edges
        if not known:
            return True
        faces = [side_faces(self.reading, side) for side in sides]
        return any(
            bool(a & set(edge.faces)) and bool(b & set(edge.faces))
            for edge in known
            for n, a in enumerate(faces)
            for b in faces[n + 1 :]
        )


def side_faces(reading: Reading, side: str) -> set[int]:
    """The plane faces that lie on this side of the part's box; empty where it only touches it round or in a point."""
    axis, sign = "XYZ".index(side[1]), 1.0 if side[0] == "+" else -1.0
    level = sign * (reading.box_max_mm if sign > 0 else reading.box_min_mm)[axis]
    return {
        face
        for group in reading.planes
        if name_of(group.direction) == side
        for one in group.levels
        if abs(one.level_mm - level) <= AT_SIDE_MM
        for face in one.faces
    }
