"""How far the stock stands off each face of the model at the end of a setup, for the viewer: the bytes SFD1.

"SFD1", u32 length of the header, the header as JSON padded with blanks to a multiple of four, then, as it counts,
little-endian: f32 points[3 points] mm in the part's coordinates, u32 triangles[3 triangles], i32 face[triangles], and
f32 deviation[points] mm along the face's normal, stock above 0, gouge below, 0 within the comparison's tolerance, NaN
where no column came near. `faces` of the header: for each measured face the most stock, the deepest gouge, the mean
(mm), and the area beyond the tolerance with stock and with gouges (mm²).
"""

from __future__ import annotations

import numpy as np

from shopflow.core.solid import Mesh
from shopflow.core.stock.columns import Columns
from shopflow.core.stock.compare import Comparison
from shopflow.core.stock.compare_picture import deviation_of_vertices, refined
from shopflow.core.stock.compare_plan import Part
from shopflow.programs.stock_picture import headed

SIDES_ALONG, MOST_TRIANGLES = 120, 100_000
"""Triangles along the longest side of the part, and in all (our choice: a few megabytes)."""


def deviation_bytes(columns: Columns, mesh: Mesh, part: Part, comparison: Comparison) -> bytes:
    """SFD1 of the stock in a setup's coordinates, and the model in its own. part: of this mesh in the setup."""
    size = float((mesh.points.max(axis=0) - mesh.points.min(axis=0)).max())
    longest = max(size / SIDES_ALONG, 2.0 * columns.pitch)
    fine = refined(mesh, longest, most=MOST_TRIANGLES)
    values = deviation_of_vertices(columns, fine, part.placement)
    face = np.zeros(len(values), np.int64)
    face[fine.triangles.reshape(-1)] = np.repeat(fine.faces, 3)
    # On a curved face the chords of the mesh are no deviation.
    curved = ~np.isin(face, part.surface.numbers[part.surface.is_flat])
    values[np.abs(values) <= comparison.tolerance_mm + np.where(curved, comparison.curved_mm, 0.0)] = 0.0
    faces = {
        str(one.face): [
            *(round(value, 4) for value in (one.highest_mm, -one.lowest_mm, one.mean_mm)),
            *(round(value, 2) for value in (one.over_mm2, one.under_mm2)),
        ]
        for one in comparison.faces
    }
    header = {"points": len(fine.points), "triangles": len(fine.triangles), "faces": faces}
    parts = ((fine.points, "<f4"), (fine.triangles, "<u4"), (fine.faces, "<i4"), (values, "<f4"))
    return headed(b"SFD1", header) + b"".join(np.ascontiguousarray(part).astype(kind).tobytes() for part, kind in parts)
