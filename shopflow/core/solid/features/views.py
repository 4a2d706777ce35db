"""From which of the six sides the places of each face are in sight, and how far each face reaches.

What no side sees is cut by no setup that stands by right angles; what only one side sees decides that it is one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow.core.orientation import AXES
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.mesh import Mesh
from shopflow.core.solid.values import FaceFacts, PlaneGroup, Vector

PLACES = 5
"""Looked at on each face: spread over it by area."""
MOST_SLANTED = 12
_OFF_MM = 0.02
_GRAZING = -0.01
_SPREAD = np.array([(1 / 3, 1 / 3, 1 / 3), (0.6, 0.2, 0.2), (0.2, 0.6, 0.2), (0.2, 0.2, 0.6)])
"""Where in a triangle a place lies, in turn, so that several places of one large triangle are not one."""


@dataclass(frozen=True)
class Spots:
    """Places on the faces of a mesh. faces: (s,) the face of each; starts: (s, 3) just over it; normals: (s, 3)."""

    faces: NDArray[np.int32]
    starts: NDArray[np.float64]
    normals: NDArray[np.float64]

    def in_sight(self, way: Vector, sight: Sight) -> NDArray[np.bool_]:
        """(s,): whether a straight line leads from each place to a spindle in this direction."""
        found = self.normals @ np.array(way) > _GRAZING
        found[found] = sight.lines_are_clear(self.starts[found], way)
        return np.asarray(found)


def look(mesh: Mesh, sight: Sight, slanted: Sequence[Vector] = ()) -> dict[int, dict[str, Any]]:
    """By face: the values of `FaceFacts` that are named low_mm, high_mm, seen and aslant."""
    corners = mesh.points.astype(np.float64)[mesh.triangles.astype(np.int64)]
    spots = _spots(corners, mesh.faces)
    seen = np.zeros(len(spots.faces), dtype=np.int64)
    for bit, way in enumerate(AXES.values()):
        seen |= spots.in_sight(way, sight).astype(np.int64) << bit
    found: dict[int, dict[str, Any]] = {face: {**box, "seen": ()} for face, box in _boxes(corners, mesh.faces).items()}
    for face, own in _by_face(spots.faces):
        found[face]["seen"] = tuple(seen[own].tolist())
    dark = Spots(*(values[seen == 0] for values in (spots.faces, spots.starts, spots.normals)))
    views = [(way, dark.in_sight(way, sight)) for way in slanted[:MOST_SLANTED]] if len(dark.faces) else []
    for face in np.unique(dark.faces):
        own = dark.faces == face
        found[int(face)]["aslant"] = tuple(way for way, clear in views if clear[own].all())
    return found


def _boxes(corners: NDArray[np.float64], faces: NDArray[np.int32]) -> dict[int, dict[str, Vector]]:
    """By face, the corners of the box round its triangles."""
    low, high = corners.min(axis=1), corners.max(axis=1)
    return {
        face: {"low_mm": _three(low[own].min(axis=0)), "high_mm": _three(high[own].max(axis=0))}
        for face, own in _by_face(faces)
    }


def _by_face(faces: NDArray[np.int32]) -> list[tuple[int, NDArray[np.int64]]]:
    """Each face with the places at which it stands, in their order."""
    order = np.argsort(faces, kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(faces[order])) + 1)
    return [(int(faces[own[0]]), own) for own in groups if len(own)]


def noted(faces: Sequence[FaceFacts], found: Mapping[int, Mapping[str, Any]]) -> tuple[FaceFacts, ...]:
    """The faces with what was seen of them; those without a triangle stay as they are."""
    return tuple(replace(face, **found.get(face.index, {})) for face in faces)


def slanted_ways(groups: Sequence[PlaneGroup]) -> list[Vector]:
    """Directions of the planes that look to no side, in the order of the groups."""
    square = 1 - 1e-3
    return [one.direction for one in groups if all(abs(part) < square for part in one.direction)]


def _spots(corners: NDArray[np.float64], faces: NDArray[np.int32]) -> Spots:
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    doubled = np.linalg.norm(across, axis=1)
    order = np.lexsort((-doubled, faces))
    own = np.split(order, np.flatnonzero(np.diff(faces[order])) + 1)
    at = np.array([triangles[one] for triangles in own for one in _spread(doubled[triangles])], dtype=int)
    normals = across[at] / doubled[at][:, None]
    places = np.einsum("sc,scx->sx", np.resize(_SPREAD, (len(at), 3)), corners[at])
    return Spots(faces[at], places + _OFF_MM * normals, normals)


def _spread(areas: NDArray[np.float64]) -> list[int]:
    """Triangles, largest first, that lie at equal steps of the area added up; a face of no area has no place."""
    added = np.cumsum(areas)
    if not added[-1] > 0:
        return []
    return [int(at) for at in np.searchsorted(added, (np.arange(PLACES) + 0.5) / PLACES * added[-1])]


def _three(values: NDArray[np.float64]) -> Vector:
    return (float(values[0]), float(values[1]), float(values[2]))
