"""Where two opposite sides of a mesh are both flat and outermost: a raster over its triangles, for checks of grips."""

import numpy as np

from shopflow.core.planning import AXES

NEAR_MM = 0.05
ROWS = 9


def shared_mm(reading, up, axis, band):
    """Length along the jaws over which both outermost sides along an axis are flat in a whole band of heights."""
    height = "XYZ".index(up[1])
    (run,) = {0, 1, 2} - {axis, height}
    low, high = reading.box_min_mm, reading.box_max_mm
    heights = np.linspace(band[0] + 0.05, band[1] - 0.05, ROWS)
    levels = low[height] + heights if up[0] == "+" else high[height] - heights
    columns = np.linspace(low[run], high[run], 401)[:-1] + (high[run] - low[run]) / 800
    masks = [_flat(reading.mesh, axis, high[axis], 1.0, run, columns, height, levels),
             _flat(reading.mesh, axis, low[axis], -1.0, run, columns, height, levels)]  # fmt: skip
    held = (masks[0].mean(axis=1) >= 0.7) & (masks[1].mean(axis=1) >= 0.7)
    return held.mean() * (high[run] - low[run])


def _flat(mesh, axis, level, sign, run, columns, height, levels):
    """(columns, levels): whether the outermost side is there."""
    corners = mesh.points.astype(float)[mesh.triangles.astype(int)]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    way = np.array(AXES[f"{'+' if sign > 0 else '-'}{'XYZ'[axis]}"])
    at_side = (np.abs(corners[:, :, axis] - level).max(axis=1) < NEAR_MM) & (normal @ way > 0.999)
    u, v = np.meshgrid(columns, levels, indexing="ij")
    found = np.zeros(u.shape, bool)
    for triangle in corners[at_side]:
        (ax, ay), (bx, by), (cx, cy) = triangle[:, [run, height]]
        sides = [
            (bx - ax) * (v - ay) - (by - ay) * (u - ax),
            (cx - bx) * (v - by) - (cy - by) * (u - bx),
            (ax - cx) * (v - cy) - (ay - cy) * (u - cx),
        ]
        found |= np.all([s >= -1e-9 for s in sides], axis=0) | np.all([s <= 1e-9 for s in sides], axis=0)
    return found
