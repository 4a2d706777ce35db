"""What is meant to be left, or to be gone, when material is compared with a model: not each difference is a fault."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from types import MappingProxyType

from shopflow.core.solid import Reading

THREAD_DEPTH = 0.541266
"""Depth of engagement of a 60 degree thread in pitches, 5/8 of the sharp height (ISO 68-1): on a radius, how far the
minor diameter lies inside the major one."""


class Cause(IntEnum):
    """Why a place differs from the model."""

    NONE = 0
    """Within the tolerance."""
    LEFT = 1
    """Stock that nothing removes."""
    GOUGE = 2
    UNTOUCHED = 3
    """Stock over a feature that nobody cut."""
    LATER = 4
    """Stock that a later setup or op removes."""
    CORNER = 5
    """What a round tool leaves in a sharp inside corner."""
    THREAD = 6
    """A thread that the model does not show, or the columns do not."""
    EDGE = 7
    """An edge drawn sharp and broken on purpose."""
    POINT = 8
    """What the point of a drill makes of the bottom of a blind hole."""
    BEFORE = 9
    """Missing already when the setup began."""


@dataclass(frozen=True)
class Feature:
    """Faces that are cut together. kind: "hole", "chamfer", "pocket" …; name: what a person calls it.

    standing_mm: the mean stock over its faces, along the normal, while it is not cut at all; about.
    """

    kind: str
    name: str
    faces: tuple[int, ...]
    standing_mm: float


@dataclass(frozen=True)
class Bottom:
    """A blind hole whose bottom is drawn otherwise than its drill makes it.

    mouth, axis: middle of its mouth and the way out of it, in the setup. depth_mm: to the end of the full diameter, as
    drawn. point_mm: how much longer or shorter the drill's point is than the drawn one. radius_mm: of the hole.
    """

    mouth: tuple[float, float, float]
    axis: tuple[float, float, float]
    depth_mm: float
    point_mm: float
    radius_mm: float


@dataclass(frozen=True)
class Expected:
    """later: faces that a later setup or op cuts. features: whose absence is told apart from stock left.

    threads: by face number, how deep on the radius a thread goes; its form is on no model and in no columns.
    tool_radius_mm, corner_radius_mm: of the smallest end mill that came, and of its corner (a ball's is its radius):
    what they cannot reach in a sharp inside edge is no fault of a pass. 0: not known, nothing is explained so.
    larger_radii_mm: of the other end mills, which answer for the corners where the smallest did not come.
    axis: of the tool in the setup. edge_break_mm: how far an edge drawn sharp may be broken on purpose.
    bottoms: blind holes that end in their drill's point.
    """

    later: frozenset[int] = frozenset()
    features: tuple[Feature, ...] = ()
    threads: Mapping[int, float] = field(default_factory=lambda: MappingProxyType({}))
    tool_radius_mm: float = 0.0
    corner_radius_mm: float = 0.0
    larger_radii_mm: tuple[float, ...] = ()
    axis: tuple[float, float, float] = (0.0, 0.0, 1.0)
    edge_break_mm: float = 0.0
    bottoms: tuple[Bottom, ...] = ()


def features_of(reading: Reading) -> tuple[Feature, ...]:
    """Holes, chamfers and pockets of a reading, each with the faces that the mesh numbers."""
    return (*_holes(reading), *_chamfers(reading), *_pockets(reading))


def _holes(reading: Reading) -> Iterator[Feature]:
    for hole in reading.holes:
        name = f"hole of {hole.diameter_mm:.2f} mm at {_place(hole.position_mm)}"
        yield Feature("hole", name, hole.faces, hole.diameter_mm / 2.0)


def _chamfers(reading: Reading) -> Iterator[Feature]:
    """A sharp edge stands over the middle of a chamfer by its height, and over its rims by nothing."""
    for chamfer in reading.chamfers:
        one, other = chamfer.size_mm, chamfer.other_size_mm
        name = f"chamfer of {one:.2f} mm, {chamfer.length_mm:.1f} mm long"
        yield Feature("chamfer", name, chamfer.faces, one * other / math.hypot(one, other) / 2.0)


def _pockets(reading: Reading) -> Iterator[Feature]:
    for pocket in reading.pockets:
        name = f"{pocket.kind} of {pocket.depth_mm:.2f} mm depth at {_place(pocket.position_mm)}"
        standing = min(pocket.depth_mm, pocket.width_mm / 2.0 if pocket.width_mm else pocket.depth_mm)
        yield Feature(pocket.kind, name, pocket.faces, standing)


def _place(point: tuple[float, float, float]) -> str:
    return ", ".join(f"{value:.2f}" for value in point)
