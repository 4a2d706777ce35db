"""Columns of material: volumes against closed forms, meshes, turns, bytes."""

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.core.errors import LimitReached, NotPossible, Unreadable
from shopflow.core.stock import keeping, shapes
from shopflow.core.stock.columns import ColumnSet, largest_difference
from shopflow.core.stock.from_mesh import from_mesh
from shopflow.core.stock.grid import Grid, grid_for, grid_over
from shopflow.core.stock.turn import placed
from shopflow.core.types import Placement

BLOCK = ((0.0, 0.0, 0.0), (20.0, 12.0, 8.0))
QUARTERS = [
    tuple(np.array(rows, float).reshape(-1).tolist())
    for rows in (
        [[0, -1, 0], [1, 0, 0], [0, 0, 1]],
        [[1, 0, 0], [0, -1, 0], [0, 0, -1]],
        [[0, 0, 1], [1, 0, 0], [0, 1, 0]],
        [[1, 0, 0], [0, 0, -1], [0, 1, 0]],
    )
]


def grid(pitch=0.25, box=BLOCK):
    return grid_over(box, pitch)


def drilled():
    holes = (shapes.Hole(2, (5.0, 6.0), 4.0), shapes.Hole(0, (3.0, 4.0), 2.0), shapes.Hole(1, (14.0, 4.0), 3.0))
    return shapes.plate(grid(), BLOCK, holes)


def test_a_box_has_its_ends_exactly_and_its_volume_to_the_rim():
    block = shapes.box(grid(), BLOCK)
    for axis, one in enumerate(block.sets):
        full = one.count == 1
        assert np.all(one.ends[full, 0, 0] == BLOCK[0][axis]) and np.all(one.ends[full, 0, 1] == BLOCK[1][axis])
    assert block.volume == pytest.approx(20 * 12 * 8, rel=0.04)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_round_has_the_volume_of_its_formula_in_every_set(axis):
    low, high = -6.0, 9.0
    size = grid(0.1, ((-10.0,) * 3, (10.0,) * 3))
    bar = shapes.round_bar(size, (0.5, -0.5), 15.0, (low, high), axis)
    assert bar.volumes() == pytest.approx([math.pi / 4 * 15.0**2 * (high - low)] * 3, rel=0.008)


def test_a_plate_lacks_the_volume_of_its_hole():
    block, plate = shapes.box(grid(0.1), BLOCK), shapes.plate(grid(0.1), BLOCK, [shapes.Hole(2, (8.0, 6.0), 6.0)])
    for before, after in zip(block.volumes(), plate.volumes(), strict=True):
        assert before - after == pytest.approx(math.pi * 9.0 * 8.0, rel=0.01)


def test_a_hole_leaves_two_pieces_in_the_columns_across_it():
    one = shapes.plate(grid(), BLOCK, [shapes.Hole(2, (8.0, 6.0), 6.0)]).along(0)
    row = int(np.argmin(np.abs(grid().middles(1) - 6.0)))
    assert one.count[row, 10] == 2
    half = math.sqrt(9.0 - (grid().middles(1)[row] - 6.0) ** 2)
    assert one.ends[row, 10, 0, 1] == pytest.approx(8.0 - half, abs=1e-5)


def test_a_column_without_room_grows_its_set():
    holes = [shapes.Hole(2, (2.0 + 3.0 * number, 6.0), 2.0) for number in range(6)]
    one = shapes.plate(grid(), BLOCK, holes).along(0)
    assert one.count.max() == 7 and one.capacity == 8


def test_more_pieces_than_a_column_can_ever_hold_are_refused():
    one = ColumnSet(2, np.zeros((1, 1), np.uint8), np.zeros((1, 1, 4, 2), np.float32))
    with pytest.raises(LimitReached, match="coarser grid"):
        one.widened(129)


def test_a_mesh_of_a_box_gives_the_columns_of_the_box():
    mesh = trimesh.creation.box(bounds=BLOCK)
    assert largest_difference(from_mesh(grid(), mesh.vertices, mesh.faces), shapes.box(grid(), BLOCK)) < 1e-5


def test_a_mesh_with_columns_through_its_edges_and_corners_is_closed_all_the_same():
    exact = Grid((-0.5, -0.5, -0.5), 1.0, (21, 13, 9))
    mesh = trimesh.creation.box(bounds=BLOCK).subdivide().subdivide()
    found = from_mesh(exact, mesh.vertices, mesh.faces)
    assert all(np.all(one.count[1:-1, 1:-1] == 1) for one in found.sets)


@pytest.mark.parametrize("inside_out", [False, True])
def test_a_mesh_of_a_sphere_has_its_volume(inside_out):
    mesh = trimesh.creation.icosphere(subdivisions=4, radius=5.0)
    faces = mesh.faces[:, ::-1] if inside_out else mesh.faces
    ball = from_mesh(grid_over(((-5.0,) * 3, (5.0,) * 3), 0.1), mesh.vertices, faces)
    assert ball.volumes() == pytest.approx([mesh.volume] * 3, rel=0.002)


def test_solids_that_overlap_count_once():
    one, two = trimesh.creation.box(bounds=BLOCK), trimesh.creation.box(bounds=((5, 2, 2), (30, 9, 6)))
    both = trimesh.util.concatenate([one, two])
    size = grid_over(((0, 0, 0), (30, 12, 8)), 0.2)
    assert from_mesh(size, both.vertices, both.faces).volume == pytest.approx(20 * 12 * 8 + 10 * 7 * 4, rel=0.02)


def test_an_open_mesh_is_refused():
    mesh = trimesh.creation.box(bounds=BLOCK)
    with pytest.raises(Unreadable, match="not closed"):
        from_mesh(grid(), mesh.vertices, mesh.faces[1:])


@pytest.mark.parametrize("rotation", QUARTERS)
def test_a_quarter_turn_is_the_same_part_read_from_its_turned_mesh(rotation):
    placement = Placement(rotation, (3.0, -7.0, 11.0))
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = np.array(rotation).reshape(3, 3), placement.origin_mm
    mesh = trimesh.creation.icosphere(subdivisions=2, radius=4.0)
    mesh.apply_translation((9.0, 6.0, 4.0))
    turned = placed(from_mesh(grid(), mesh.vertices, mesh.faces), placement)
    mesh.apply_transform(matrix)
    assert turned.turned_mm == 0.0
    assert largest_difference(turned, from_mesh(turned.grid, mesh.vertices, mesh.faces)) < 1e-4


def test_four_quarter_turns_bring_every_end_back():
    part, turned = drilled(), drilled()
    for _ in range(4):
        turned = placed(turned, Placement(QUARTERS[0]))
    assert np.allclose(turned.origin, part.origin)
    for one, other in zip(part.sets, turned.sets, strict=True):
        assert np.array_equal(one.count, other.count)
        used = np.arange(one.capacity) < one.count[..., None]
        assert np.abs(one.ends - other.ends)[used].max() < 1e-5


def test_another_angle_is_sampled_with_its_error_stated():
    angle = math.radians(30)
    cosine, sine = math.cos(angle), math.sin(angle)
    turned = placed(drilled(), Placement((cosine, -sine, 0.0, sine, cosine, 0.0, 0.0, 0.0, 1.0)))
    assert turned.turned_mm == pytest.approx(0.25 * (math.sqrt(0.5) + 0.25))
    assert turned.volume == pytest.approx(drilled().volume, rel=0.01)


def test_a_placement_that_mirrors_is_refused():
    with pytest.raises(NotPossible, match="right-handed"):
        placed(drilled(), Placement((-1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)))


def test_columns_come_back_from_their_bytes_as_they_were():
    part = drilled()
    again = keeping.from_bytes(keeping.to_bytes(part))
    assert again.grid == part.grid and largest_difference(part, again) == 0.0
    assert keeping.to_bytes(again) == keeping.to_bytes(part)


@given(st.integers(0, 400), st.integers(1, 255))
@settings(max_examples=40, deadline=None)
def test_damaged_bytes_are_refused_or_cut_short(cut, flip):
    data = bytearray(keeping.to_bytes(shapes.box(grid(2.0), BLOCK)))
    data[cut % len(data)] ^= flip
    try:
        keeping.from_bytes(bytes(data))
    except ValueError as error:
        assert "damaged" in str(error)
    with pytest.raises(ValueError, match="damaged"):
        keeping.from_bytes(bytes(data[:-1]))


def test_the_key_of_a_state_tells_where_one_input_ends_and_the_next_begins():
    assert keeping.key("ab", "c") != keeping.key("a", "bc")


def test_the_grid_follows_the_smallest_tool_and_gives_way_to_memory():
    block = ((0.0, 0.0, 0.0), (150.0, 100.0, 50.0))
    assert grid_for(block, 3.0, 10**9).pitch == pytest.approx(0.25)
    tight = grid_for(block, 3.0, 5_000_000)
    assert tight.pitch > 0.25 and tight.columns * 33 <= 5_000_000
    with pytest.raises(NotPossible, match="more memory"):
        grid_for(block, 3.0, 1000)
