"""Groups round inside faces by the axis that they share, and joins split ones into bands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from shopflow.core.solid.graph import Face, Graph, Vector, add, cross, dot, norm, sub

AXIS_OFFSET_MM = 0.02
"""Axes nearer than this are one; a drill cannot tell, and fitted axes differ by about their fit."""
AXIS_SLOPE = 0.002
"""Sine of the angle between axes that count as parallel."""
SAME_RADIUS_MM = 0.004
TOUCHING_MM = 0.01
FULL_SHARE = 0.97
"""Share of a full turn from which a band counts as a whole bore."""


@dataclass
class Band:
    """Faces of one shape around one axis that together go round it, or part of the way.

    kind: "cylinder", "cone", "torus" or "sphere". low, high: along the axis; radius_low, radius_high: there, mm.
    share: how much of the full turn is there, 0 to 1.
    """

    kind: str
    low: float
    high: float
    radius_low: float
    radius_high: float
    faces: list[int]
    turn: float = 0.0

    @property
    def share(self) -> float:
        return self.turn / (360.0 * max(self.high - self.low, 1e-9))

    @property
    def is_full(self) -> bool:
        return self.share >= FULL_SHARE

    @property
    def radius(self) -> float:
        return max(self.radius_low, self.radius_high)


@dataclass
class Axis:
    """A line that round faces share. bands: sorted from low to high along direction."""

    point: Vector
    direction: Vector
    faces: list[Face] = field(default_factory=list)
    bands: list[Band] = field(default_factory=list)

    def at(self, height: float) -> Vector:
        return add(self.point, self.direction, height)

    def height(self, point: Vector) -> float:
        return dot(sub(point, self.point), self.direction)

    def carries(self, face: Face) -> bool:
        """Whether the face turns about this line."""
        if face.kind != "sphere" and norm(cross(face.axis, self.direction)) >= AXIS_SLOPE:
            return False
        return norm(cross(sub(face.origin, self.point), self.direction)) < AXIS_OFFSET_MM


def shared_axes(faces: Iterable[Face]) -> list[Axis]:
    """Axes with the round faces that turn about them; a sphere joins every axis through its centre."""
    axes: list[Axis] = []
    spheres: list[Face] = []
    for face in faces:
        if face.kind == "sphere":
            spheres.append(face)
            continue
        home = next((axis for axis in axes if axis.carries(face)), None)
        if home is None:
            home = Axis(face.origin, face.axis)
            axes.append(home)
        home.faces.append(face)
    for axis in axes:
        axis.faces += [face for face in spheres if axis.carries(face)]
        axis.bands = _bands(axis)
    return axes


def inside_axes(graph: Graph) -> list[Axis]:
    """Axes of everything hollow and round in the model."""
    hollow = graph.of_kind("cylinder", "cone", "torus", "sphere")
    return shared_axes(face for face in hollow if face.concave)


def _bands(axis: Axis) -> list[Band]:
    bands: list[Band] = []
    for face in sorted(axis.faces, key=lambda face: _ends(axis, face)[0]):
        piece = _piece(axis, face)
        home = next((band for band in bands if _belongs(band, piece)), None)
        if home is None:
            bands.append(piece)
            continue
        _absorb(home, piece)
    return sorted(bands, key=lambda band: (band.low, band.high))


def _absorb(home: Band, piece: Band) -> None:
    if piece.low < home.low:
        home.low, home.radius_low = piece.low, piece.radius_low
    if piece.high > home.high:
        home.high, home.radius_high = piece.high, piece.radius_high
    home.faces += piece.faces
    home.turn += piece.turn


def _ends(axis: Axis, face: Face) -> tuple[float, float, float, float]:
    """Heights of a face's two ends along the axis and the radii there, the lower first."""
    centre = axis.height(face.origin)
    if face.kind == "sphere":
        return _sphere_ends(axis, face, centre)
    if dot(face.axis, axis.direction) >= 0:
        return centre + face.low, centre + face.high, face.radius_low, face.radius_high
    return centre - face.high, centre - face.low, face.radius_high, face.radius_low


def _sphere_ends(axis: Axis, face: Face, centre: float) -> tuple[float, float, float, float]:
    """A spherical bottom reaches from its rim to its pole, on the side where its face lies."""
    if axis.height(face.centre) < centre:
        return centre - face.radius, centre, 0.0, face.radius
    return centre, centre + face.radius, face.radius, 0.0


def _piece(axis: Axis, face: Face) -> Band:
    low, high, radius_low, radius_high = _ends(axis, face)
    turn = face.span_deg * max(high - low, 1e-9)
    return Band(face.kind, low, high, radius_low, radius_high, [face.index], turn)


def _belongs(band: Band, piece: Band) -> bool:
    """Whether a piece carries a band on: the same surface, overlapping or touching along the axis."""
    if band.kind != piece.kind or piece.low > band.high + TOUCHING_MM or piece.high < band.low - TOUCHING_MM:
        return False
    if band.kind == "cylinder":
        return abs(band.radius_low - piece.radius_low) < SAME_RADIUS_MM + 1e-5 * band.radius_low
    same = TOUCHING_MM
    ends = (band.low - piece.low, band.high - piece.high)
    radii = (band.radius_low - piece.radius_low, band.radius_high - piece.radius_high)
    return all(abs(gap) < same for gap in ends) and all(abs(gap) < same for gap in radii)
