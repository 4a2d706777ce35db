"""Small closed meshes with exact sizes and known face numbers, as a model's mesh has them."""

import math

import numpy as np

from shopflow.core.solid import Mesh

BOTTOM, TOP, WALL, RIGHT, BACK, LEFT = range(6)
"""Faces of a box: WALL is the one in front, at the lowest y."""


def mesh_of(faces):
    """A mesh from flat or ruled faces: for each a list of polygons with corners counter-clockwise from outside.

    Points are not shared between faces.
    """
    points, triangles, numbers = [], [], []
    for number, polygons in enumerate(faces):
        for polygon in polygons:
            first = len(points)
            points += polygon
            for k in range(1, len(polygon) - 1):
                triangles.append((first, first + k, first + k + 1))
                numbers.append(number)
    return Mesh(
        np.array(points, np.float32),
        np.array(triangles, np.uint32),
        np.array(numbers, np.int32),
        np.zeros(1, np.uint32),
        np.zeros((0, 3), np.float32),
    )


def box_faces(solid):
    (x0, y0, z0), (x1, y1, z1) = solid
    return [
        [[(x0, y0, z0), (x0, y1, z0), (x1, y1, z0), (x1, y0, z0)]],
        [[(x0, y0, z1), (x1, y0, z1), (x1, y1, z1), (x0, y1, z1)]],
        [[(x0, y0, z0), (x1, y0, z0), (x1, y0, z1), (x0, y0, z1)]],
        [[(x1, y0, z0), (x1, y1, z0), (x1, y1, z1), (x1, y0, z1)]],
        [[(x1, y1, z0), (x0, y1, z0), (x0, y1, z1), (x1, y1, z1)]],
        [[(x0, y1, z0), (x0, y0, z0), (x0, y0, z1), (x0, y1, z1)]],
    ]


def box_mesh(solid):
    return mesh_of(box_faces(solid))


def stepped_mesh(outline, depth):
    """A prism over an outline in the XY plane, counter-clockwise, from z = 0 to depth. Face k is the side from corner
    k; then bottom and top. Convex outlines only."""
    low = [(x, y, 0.0) for x, y in outline]
    high = [(x, y, depth) for x, y in outline]
    count = len(outline)
    sides = [[[low[k], low[(k + 1) % count], high[(k + 1) % count], high[k]]] for k in range(count)]
    return mesh_of([*sides, [low[::-1]], [high]])


def _frame(solid, hole, z, up):
    """A rectangle with a hole of many corners, as triangles between both rims. hole: corners counter-clockwise."""
    (x0, y0, _), (x1, y1, _) = solid
    corners = [(x1, y1), (x0, y1), (x0, y0), (x1, y0)]
    count = len(hole)
    quarter = count // 4
    polygons = []
    for q in range(4):
        corner, following = corners[q], corners[(q + 1) % 4]
        rim = [hole[(q * quarter + k) % count] for k in range(quarter + 1)]
        # The fan of a corner over its quarter of the hole, and the triangle to the next corner.
        for k in range(quarter):
            polygons.append([(*corner, z), (*rim[k + 1], z), (*rim[k], z)])
        polygons.append([(*corner, z), (*following, z), (*rim[-1], z)])
    return polygons if up else [polygon[::-1] for polygon in polygons]


def _through(solid, hole):
    """A box with a hole through Z; face 6 is the hole's wall."""
    (_, _, z0), (_, _, z1) = solid
    faces = box_faces(solid)
    faces[BOTTOM], faces[TOP] = _frame(solid, hole, z0, False), _frame(solid, hole, z1, True)
    pairs = list(zip(hole, hole[1:] + hole[:1], strict=True))
    return [*faces, [[(*b, z0), (*a, z0), (*a, z1), (*b, z1)] for a, b in pairs]]


def ring_mesh(solid, at, diameter, chord):
    """A box with a round hole through Z, in chords that lie no further from the circle than this."""
    radius = diameter / 2
    count = 4 * math.ceil(math.pi / math.acos(1 - chord / radius) / 4)
    turns = [2 * math.pi * k / count for k in range(count)]
    return mesh_of(_through(solid, [(at[0] + radius * math.cos(a), at[1] + radius * math.sin(a)) for a in turns]))


def pocket_mesh(solid, opening, floor):
    """A box with a square pocket from the top: faces 6 to 9 are its walls, 10 its floor."""
    (x0, y0), (x1, y1) = opening
    hole = [(x1, y1), (x0, y1), (x0, y0), (x1, y0)]
    top = solid[1][2]
    faces = box_faces(solid)
    faces[TOP] = _frame(solid, hole, top, True)
    pairs = zip(hole, hole[1:] + hole[:1], strict=True)
    walls = [[[(*b, floor), (*a, floor), (*a, top), (*b, top)]] for a, b in pairs]
    return mesh_of([*faces, *walls, [[(*corner, floor) for corner in hole]]])
