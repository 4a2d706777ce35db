"""Straight lines against a mesh, tried one by one: what the planner says of sight is checked against this.

Nothing of the planner or of the reader's own sight is used, only the mesh.
"""

import numpy as np

from shopflow.core.planning import AXES

OFF_MM = 0.03


def places(mesh, count, only=None, seed=1):
    """By face: (count, 3) points just over it and (count, 3) normals, picked at random by area."""
    rng = np.random.default_rng(seed)
    a, b, c = (mesh.points.astype(float)[mesh.triangles.astype(int)[:, n]] for n in range(3))
    across = np.cross(b - a, c - a)
    area = np.linalg.norm(across, axis=1) / 2
    found = {}
    for face in np.unique(mesh.faces):
        own = np.flatnonzero((mesh.faces == face) & (area > 1e-9))
        if len(own) and (only is None or face in only):
            at = rng.choice(own, count, p=area[own] / area[own].sum())
            weights = rng.dirichlet((3, 3, 3), count)
            points = weights[:, :1] * a[at] + weights[:, 1:2] * b[at] + weights[:, 2:] * c[at]
            normals = across[at] / (2 * area[at])[:, None]
            found[int(face)] = (points + OFF_MM * normals, normals)
    return found


def seen(mesh, count=3, only=None):
    """By face and side: (count,) whether each place is in sight from there. only: numbers of the faces to look at."""
    found = places(mesh, count, only)
    if not found:
        return {}
    points = np.concatenate([one for one, _ in found.values()])
    normals = np.concatenate([one for _, one in found.values()])
    by_side = {side: _clear(mesh, points, normals, np.array(way)) for side, way in AXES.items()}
    return {
        face: {side: clear[n * count : (n + 1) * count] for side, clear in by_side.items()}
        for n, face in enumerate(found)
    }


def _clear(mesh, points, normals, way):
    """Upright lines along one axis: the triangle that a line crosses has it inside all three edges."""
    up = int(np.argmax(np.abs(way)))
    u, v = (axis for axis in range(3) if axis != up)
    corners = mesh.points.astype(float)[mesh.triangles.astype(int)]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    area = (b[:, u] - a[:, u]) * (c[:, v] - a[:, v]) - (b[:, v] - a[:, v]) * (c[:, u] - a[:, u])
    a, b, c, area = a[area != 0], b[area != 0], c[area != 0], area[area != 0]
    clear = normals @ way > -0.01
    for n in np.flatnonzero(clear):
        x, y = points[n, u], points[n, v]
        of_a = ((b[:, u] - x) * (c[:, v] - y) - (b[:, v] - y) * (c[:, u] - x)) / area
        of_b = ((c[:, u] - x) * (a[:, v] - y) - (c[:, v] - y) * (a[:, u] - x)) / area
        of_c = 1 - of_a - of_b
        height = of_a * a[:, up] + of_b * b[:, up] + of_c * c[:, up]
        above = way[up] * (height - points[n, up]) > 1e-6
        clear[n] = not ((of_a >= 0) & (of_b >= 0) & (of_c >= 0) & above).any()
    return clear
