"""The model's surface as it stands in a setup: triangles by face, and the edges where faces meet."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shopflow.core.solid import Mesh
from shopflow.core.types import Placement

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]
Flags = NDArray[np.bool_]

SHARP_COS = math.cos(math.radians(20.0))
"""Faces whose normals differ by less meet smoothly: a tool rolls over (our choice)."""

_FLAT_COS = 1.0 - 1e-6


@dataclass(frozen=True)
class Surface:
    """A closed mesh. points: (p, 3) mm in the setup; triangles: (t, 3) point numbers, one for each place,
    counter-clockwise from outside; faces: (t,) face number. chord_mm: how far the mesh may be from the model where that
    is curved.
    """

    points: Floats
    triangles: Numbers
    faces: Numbers
    chord_mm: float = 0.0

    @cached_property
    def crosses(self) -> Floats:
        """(t, 3) normals, twice the area long."""
        a, b, c = (self.points[self.triangles[:, corner]] for corner in range(3))
        found: Floats = np.cross(b - a, c - a)
        return found

    @cached_property
    def normals(self) -> Floats:
        """(t, 3) unit normals out of the material; zero for a triangle without area."""
        length = np.linalg.norm(self.crosses, axis=1)
        unit: Floats = self.crosses / np.where(length > 0.0, length, 1.0)[:, None]
        return unit

    @cached_property
    def numbers(self) -> Numbers:
        """(f,) the face numbers, rising."""
        return np.unique(self.faces)

    @cached_property
    def areas(self) -> Floats:
        """(f,) mm² of each face of `numbers`."""
        at = np.searchsorted(self.numbers, self.faces)
        halves = np.linalg.norm(self.crosses, axis=1) / 2.0
        return np.bincount(at, halves, len(self.numbers)).astype(np.float64)

    @cached_property
    def is_flat(self) -> Flags:
        """(f,) whether all triangles of a face look the same way: then the mesh is exact there."""
        at = np.searchsorted(self.numbers, self.faces)
        largest = np.zeros(len(self.numbers), np.int64)
        areas = np.linalg.norm(self.crosses, axis=1)
        order = np.argsort(areas, kind="stable")
        largest[at[order]] = order
        alike = np.einsum("ij,ij->i", self.normals, self.normals[largest[at]])
        thin = areas < 1e-9
        flat: Flags = np.bincount(at, (alike < _FLAT_COS) & ~thin, len(self.numbers)) == 0
        return flat

    @cached_property
    def edges(self) -> Edges:
        return edges_of(self)


@dataclass(frozen=True)
class Edges:
    """Pieces of edges between faces that meet at an angle. start, way: (e, 3) mm; length: (e,) mm, way has length 1.
    one, other: (e, 3) unit normals of both faces, faces: (e, 2) their numbers. is_inside: (e,) bool, the material lies
    around it, as in a pocket's corner.
    """

    start: Floats
    way: Floats
    length: Floats
    one: Floats
    other: Floats
    faces: Numbers
    is_inside: Flags

    def of_each_face(self, numbers: Numbers, which: Flags) -> tuple[Numbers, Floats]:
        """The chosen edges listed under both their faces, so that a place looks only at those of its own.

        numbers: (f,) rising face numbers. (f + 1,) where each face's begin, and (2 e, 10): start, way, length, normal
        of the face beyond.
        """
        lines = np.hstack((self.start, self.way, self.length[:, None]))[which]
        rows = np.vstack((np.hstack((lines, self.other[which])), np.hstack((lines, self.one[which]))))
        face = self.faces[which].T.reshape(-1)
        order = np.argsort(face, kind="stable")
        begins = np.append(np.searchsorted(face[order], numbers), len(face)).astype(np.int64)
        return begins, np.ascontiguousarray(rows[order])


def surface_of(mesh: Mesh, placement: Placement | None = None, *, chord_mm: float = 0.0) -> Surface:
    """The mesh of a model placed in a setup. chord_mm: its `mesh_deflection_mm`."""
    where = placement or Placement()
    rotation = np.array(where.rotation).reshape(3, 3)
    placed = mesh.points.astype(np.float64) @ rotation.T + np.array(where.origin_mm)
    _, first, inverse = np.unique(mesh.points, axis=0, return_index=True, return_inverse=True)
    triangles = first[inverse.reshape(-1)][mesh.triangles.astype(np.int64)]
    if np.einsum("ij,ij->", placed[triangles[:, 0]], np.cross(placed[triangles[:, 1]], placed[triangles[:, 2]])) < 0.0:
        triangles = triangles[:, ::-1]  # a mesh turned inside out still means its solid
    a, b, c = triangles.T
    whole = (a != b) & (b != c) & (c != a)
    return Surface(placed, np.ascontiguousarray(triangles[whole]), mesh.faces[whole].astype(np.int64), chord_mm)


def edges_of(surface: Surface) -> Edges:
    """Edges that two triangles of different faces share at an angle."""
    sides = np.concatenate([surface.triangles[:, (k, (k + 1) % 3)] for k in range(3)])
    of = np.tile(np.arange(len(surface.triangles)), 3)
    low, high = sides.min(axis=1), sides.max(axis=1)
    order = np.lexsort((high, low))
    pairs = np.flatnonzero((low[order][1:] == low[order][:-1]) & (high[order][1:] == high[order][:-1]))
    one, other = of[order[pairs]], of[order[pairs + 1]]
    n, m = surface.normals[one], surface.normals[other]
    keep = (surface.faces[one] != surface.faces[other]) & (np.einsum("ij,ij->i", n, m) < SHARP_COS)
    one, other, n, m = one[keep], other[keep], n[keep], m[keep]
    start, end = surface.points[low[order[pairs]][keep]], surface.points[high[order[pairs]][keep]]
    length = np.linalg.norm(end - start, axis=1)
    beyond = surface.points[surface.triangles[other]].mean(axis=1) - start
    return Edges(
        start=start,
        way=(end - start) / np.maximum(length, 1e-12)[:, None],
        length=length,
        one=n,
        other=m,
        faces=np.column_stack((surface.faces[one], surface.faces[other])),
        is_inside=np.einsum("ij,ij->i", beyond, n) > 0.0,
    )
