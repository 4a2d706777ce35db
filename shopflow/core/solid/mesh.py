"""The triangle mesh and the drawn edges of a model, as the bytes that the browser's viewer reads.

Little endian, every part a multiple of four bytes, in this order:

    offset  bytes    what
    0       4        the letters SFM1
    4       4        uint32  n, points
    8       4        uint32  m, triangles
    12      4        uint32  k, drawn edges
    16      4        uint32  p, points of drawn edges
    20      12       zero
    32      12 n     float32 points x y z, mm
            12 m     uint32  three point numbers a triangle, counter-clockwise seen from outside
            4 m      int32   face number of each triangle, as in the reading's `faces`
            4 (k+1)  uint32  first point of each drawn edge, and p at the end
            12 p     float32 points of the drawn edges x y z, mm

Points are not shared between faces, so that normals computed from them are smooth within a face and sharp between
faces.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MAGIC = b"SFM1"
_HEADER = struct.Struct("<4s4I12x")


@dataclass(frozen=True)
class Mesh:
    """A triangle mesh. points: (n, 3) float32 mm; triangles: (m, 3) uint32; faces: (m,) int32.

    edge_starts: (k + 1,) uint32; edge_points: (p, 3) float32 mm, the polyline of edge i runs from edge_starts[i] to
    edge_starts[i + 1].
    """

    points: NDArray[np.float32]
    triangles: NDArray[np.uint32]
    faces: NDArray[np.int32]
    edge_starts: NDArray[np.uint32]
    edge_points: NDArray[np.float32]

    def to_bytes(self) -> bytes:
        """The bytes laid out as this module's description says."""
        counts = (len(self.points), len(self.triangles), len(self.edge_starts) - 1, len(self.edge_points))
        parts = (self.points, self.triangles, self.faces, self.edge_starts, self.edge_points)
        return _HEADER.pack(MAGIC, *counts) + b"".join(
            np.ascontiguousarray(part, dtype=part.dtype.newbyteorder("<")).tobytes() for part in parts
        )

    @classmethod
    def from_bytes(cls, data: bytes) -> Mesh:
        """The mesh in these bytes; raises ValueError when they are not one, or point outside themselves."""
        if len(data) < _HEADER.size or data[:4] != MAGIC:
            raise ValueError("not a mesh: it does not begin with SFM1")
        _, n, m, k, p = _HEADER.unpack_from(data)
        sizes = (("<f4", 3 * n), ("<u4", 3 * m), ("<i4", m), ("<u4", k + 1), ("<f4", 3 * p))
        if len(data) != _HEADER.size + 4 * sum(count for _, count in sizes):
            raise ValueError("not a mesh: its length does not follow from its header")
        at, parts = _HEADER.size, []
        for kind, count in sizes:
            parts.append(np.frombuffer(data, dtype=kind, count=count, offset=at))
            at += 4 * count
        mesh = cls(parts[0].reshape(-1, 3), parts[1].reshape(-1, 3), parts[2], parts[3], parts[4].reshape(-1, 3))
        mesh.check()
        return mesh

    def check(self) -> None:
        """Raise ValueError when a number in the mesh points outside it or is not finite."""
        if len(self.triangles) and int(self.triangles.max()) >= len(self.points):
            raise ValueError("not a mesh: a triangle names a point that is not there")
        starts = self.edge_starts.astype(np.int64)
        if starts[0] != 0 or starts[-1] != len(self.edge_points) or bool((np.diff(starts) < 0).any()):
            raise ValueError("not a mesh: its drawn edges do not follow one another")
        if not (bool(np.isfinite(self.points).all()) and bool(np.isfinite(self.edge_points).all())):
            raise ValueError("not a mesh: a coordinate is not a number")


EMPTY = Mesh(
    np.zeros((0, 3), np.float32),
    np.zeros((0, 3), np.uint32),
    np.zeros(0, np.int32),
    np.zeros(1, np.uint32),
    np.zeros((0, 3), np.float32),
)
