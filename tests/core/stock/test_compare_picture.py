"""One deviation for each point of the picture's mesh."""

import numpy as np
import pytest

from shopflow.core.stock import shapes
from shopflow.core.stock.compare_picture import deviation_of_vertices, refined
from shopflow.core.stock.grid import grid_over
from shopflow.core.types import Placement
from tests.core.stock.plain_meshes import TOP, box_mesh, ring_mesh

SOLID = ((0.0, 0.0, 0.0), (20.0, 15.0, 10.0))


def areas(mesh):
    a, b, c = (mesh.points[mesh.triangles[:, k]].astype(np.float64) for k in range(3))
    return np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2


@pytest.fixture(scope="module")
def fine():
    return refined(ring_mesh(SOLID, (10.0, 7.0), 6.0, 0.01), 1.0)


class TestRefined:
    def test_no_side_is_longer_than_asked(self, fine):
        corners = fine.points[fine.triangles]
        assert np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max() <= 1.0

    def test_each_face_keeps_its_area(self, fine):
        plain = ring_mesh(SOLID, (10.0, 7.0), 6.0, 0.01)
        for face in range(7):
            assert areas(fine)[fine.faces == face].sum() == pytest.approx(areas(plain)[plain.faces == face].sum())

    def test_neighbours_still_meet(self, fine):
        """Each side, by its places, is run through once in either direction: no gap, no corner on another's side."""
        _, number = np.unique(fine.points, axis=0, return_inverse=True)
        corners = number.reshape(-1)[fine.triangles]
        sides = np.concatenate([corners[:, (k, (k + 1) % 3)] for k in range(3)])
        assert set(map(tuple, sides)) == set(map(tuple, sides[:, ::-1]))

    def test_a_mesh_that_would_grow_beyond_its_limit_stays_as_it_is(self):
        assert len(refined(box_mesh(SOLID), 0.1, most=20).triangles) == 12


class TestVertices:
    def test_points_show_what_stands_over_their_own_face(self):
        grid = grid_over(((0.0, 0.0, 0.0), (20.0, 15.0, 12.0)), 0.4)
        columns = shapes.box(grid, ((0.0, 0.0, 0.0), (20.0, 15.0, 10.25)))
        mesh = refined(box_mesh(SOLID), 2.0)
        values = deviation_of_vertices(columns, mesh)
        of_top = np.zeros(len(mesh.points), bool)
        of_top[mesh.triangles[mesh.faces == TOP]] = True
        assert values.dtype == np.float32 and len(values) == len(mesh.points)
        assert values[of_top] == pytest.approx(0.25, abs=1e-4)
        assert np.abs(values[~of_top]).max() < 1e-4

    def test_points_of_slivers_without_a_column_take_their_neighbours(self, fine):
        columns = shapes.plate(grid_over(SOLID, 0.4), SOLID, [shapes.Hole(2, (10.0, 7.0), 6.2)])
        wall = np.unique(fine.triangles[fine.faces == 6])
        values = deviation_of_vertices(columns, fine)[wall]
        assert not np.isnan(values).any() and values == pytest.approx(-0.1, abs=0.02)

    def test_the_mesh_is_taken_where_it_is_placed(self):
        moved = Placement(origin_mm=(5.0, 5.0, 5.0))
        solid = ((5.0, 5.0, 5.0), (25.0, 20.0, 15.0))
        values = deviation_of_vertices(shapes.box(grid_over(solid, 0.4), solid), refined(box_mesh(SOLID), 3.0), moved)
        assert np.abs(values).max() < 1e-4
