"""Line drawings of a model as plain values: what is seen, what is hidden, in millimetres on the paper's plane."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from shopflow.core.solid.graph import Vector, cross, dot, unit

Point = tuple[float, float]
Polyline = tuple[Point, ...]


@dataclass(frozen=True)
class View:
    """How to look at a part. towards: from the part to the eye; right: what points right on paper; both any length."""

    name: str
    towards: Vector
    right: Vector

    @property
    def up(self) -> Vector:
        """Unit vector of the part that points up on paper."""
        return cross(unit(self.towards), self.flat_right)

    @property
    def flat_right(self) -> Vector:
        """Unit vector of the part that points right on paper, square to the way of looking."""
        eye = unit(self.towards)
        return unit(cross(cross(eye, self.right), eye))

    @property
    def is_square(self) -> bool:
        """Whether the paper's plane is square to the part's axes, so that sizes on it are sizes of the part."""
        return all(max(map(abs, way)) > 0.999999 for way in (unit(self.towards), self.flat_right))

    def place(self, point: Vector) -> Point:
        """Where a point of the part lies on paper."""
        return (dot(point, self.flat_right), dot(point, self.up))


STANDARD = (
    View("front", (0.0, -1.0, 0.0), (1.0, 0.0, 0.0)),
    View("back", (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0)),
    View("left", (-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
    View("right", (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    View("top", (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)),
    View("bottom", (0.0, 0.0, -1.0), (1.0, 0.0, 0.0)),
    View("isometric", (1.0, -1.0, 1.0), (1.0, 1.0, 0.0)),
)
"""The six views of a drawing and an isometric one, with Z up."""


@dataclass(frozen=True)
class Drawing:
    """One view. visible: outlines and edges in sight; smooth: in sight, where one face runs on into the next; hidden:
    behind material. x runs right and y up, mm. is_exact: False when the lines come from the mesh, because the exact
    ones took too long.
    """

    view: View
    visible: tuple[Polyline, ...]
    smooth: tuple[Polyline, ...]
    hidden: tuple[Polyline, ...]
    is_exact: bool = True

    def box(self) -> tuple[Point, Point]:
        """Lowest and highest corner of all lines."""
        points = [point for lines in (self.visible, self.smooth, self.hidden) for line in lines for point in line]
        if not points:
            return (0.0, 0.0), (0.0, 0.0)
        xs, ys = zip(*points, strict=True)
        return (min(xs), min(ys)), (max(xs), max(ys))

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Drawing:
        """The drawing again; raises KeyError, TypeError or ValueError when the data is not one."""
        view = data["view"]
        return cls(
            View(str(view["name"]), _vector(view["towards"]), _vector(view["right"])),
            _lines(data["visible"]),
            _lines(data["smooth"]),
            _lines(data["hidden"]),
            bool(data["is_exact"]),
        )


def _vector(values: Any) -> Vector:
    x, y, z = map(float, values)
    return (x, y, z)


def _lines(values: Any) -> tuple[Polyline, ...]:
    return tuple(tuple((float(x), float(y)) for x, y in line) for line in values)
