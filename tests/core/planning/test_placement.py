"""How a part stands on the machine: all 24 right-angle orientations, and the places and words of a zero."""

from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt, gp_Trsf

from shopflow.core.planning import NotSquare, Reference, Standing, blank_box, directions_along_x, placement
from shopflow.core.planning.directions import AXES
from shopflow.core.planning.placement import rotation, turn_back, turned_box
from tests.core.planning.parts import RIGHT, a_hole

ORIENTATIONS = [(up, along_x) for up in AXES for along_x in directions_along_x(up)]
PART = ((-30.0, -25.0, -40.0), (30.0, 25.0, 0.0))
lengths = st.floats(-1000, 1000, allow_nan=False)
points = st.tuples(lengths, lengths, lengths)


def matrix(up, along_x):
    return np.array(rotation(up, along_x)).reshape(3, 3)


def on_the_machine(placed, point):
    return np.array(placed.rotation).reshape(3, 3) @ np.array(point) + np.array(placed.origin_mm)


def test_the_orientations_are_the_rotations_of_a_cube():
    """All signed permutation matrices but the mirrors (determinant -1): 24, each once."""
    signed = [
        np.eye(3)[list(order)] * signs for order in permutations(range(3)) for signs in product((1, -1), repeat=3)
    ]
    turning = {tuple(one.astype(int).ravel()) for one in signed if np.linalg.det(one) > 0}
    ours = [tuple(int(value) for value in rotation(*one)) for one in ORIENTATIONS]
    assert len(ours) == len(turning) == 24
    assert set(ours) == turning


@pytest.mark.parametrize(("up", "along_x"), ORIENTATIONS)
@settings(max_examples=5)
@given(zero=points, point=points)
def test_a_placement_is_what_open_cascade_makes_of_the_same_axes(up, along_x, zero, point):
    """gp_Trsf.SetTransformation: coordinates in the system of an origin, a main direction (Z) and an X direction."""
    frame = gp_Trsf()
    frame.SetTransformation(gp_Ax3(gp_Pnt(*zero), gp_Dir(*AXES[up]), gp_Dir(*AXES[along_x])))
    theirs = gp_Pnt(*point).Transformed(frame)
    assert np.allclose(on_the_machine(placement(up, along_x, zero), point), theirs.Coord(), atol=1e-9)


@pytest.mark.parametrize(("up", "along_x"), ORIENTATIONS)
def test_what_is_up_is_along_z_and_what_lies_along_x_is_along_x(up, along_x):
    turned = matrix(up, along_x)
    assert (turned @ AXES[up]).tolist() == [0.0, 0.0, 1.0]
    assert (turned @ AXES[along_x]).tolist() == [1.0, 0.0, 0.0]


@given(orientation=st.sampled_from(ORIENTATIONS), zero=points, point=points)
def test_the_zero_is_the_origin_and_every_distance_to_it_stays(orientation, zero, point):
    placed = placement(*orientation, zero)
    assert np.allclose(on_the_machine(placed, zero), 0.0, atol=1e-9)
    was = np.linalg.norm(np.subtract(point, zero))
    assert np.linalg.norm(on_the_machine(placed, point)) == pytest.approx(was, abs=1e-9)


@pytest.mark.parametrize("up", AXES)
def test_a_direction_that_is_not_square_to_up_is_refused(up):
    for along_x in (f"+{up[1]}", f"-{up[1]}"):
        with pytest.raises(NotSquare, match="square to it"):
            placement(up, along_x, (0.0, 0.0, 0.0))


# Written by hand for the programs of the demo, as a machinist turns the part: tests/demo/test_programs_cut_the_parts.
@pytest.mark.parametrize(
    ("up", "along_x", "zero", "seen"),
    [
        ("+Z", "+X", (0.0, 0.0, 0.0), lambda x, y, z: (x, y, z)),
        ("-Z", "+X", (0.0, 0.0, -12.0), lambda x, y, z: (x, -y, -z - 12.0)),
        ("+X", "+Y", (30.0, 0.0, 0.0), lambda x, y, z: (y, z, x - 30.0)),
    ],
    ids=["from above", "turned over about X", "stood on its end"],
)
@given(point=points)
def test_a_part_is_turned_as_by_hand(up, along_x, zero, seen, point):
    assert np.allclose(on_the_machine(placement(up, along_x, zero), point), seen(*point), atol=1e-9)


@pytest.mark.parametrize(("up", "along_x"), ORIENTATIONS)
def test_the_nine_places_on_top_are_the_corners_edges_and_middle_of_the_box_s_upper_face(up, along_x):
    stands = Standing(up, along_x, PART)
    low, high = turned_box(stands.rows, PART)
    for number, x in zip(("left", "middle", "right"), np.linspace(low[0], high[0], 3), strict=True):
        for side, y in zip(("front", "middle", "back"), np.linspace(low[1], high[1], 3), strict=True):
            wanted = turn_back(stands.rows, (x, y, high[2]))
            assert stands.point(f"part {number} {side}", "part top") == pytest.approx(wanted)


@pytest.mark.parametrize(("up", "along_x"), ORIENTATIONS)
def test_a_named_place_is_found_again_from_its_numbers(up, along_x):
    blank = blank_box(PART, (64.0, 54.0, 44.0), up, 1.0)
    stands = Standing(up, along_x, PART, blank)
    for flat in stands.flat_places:
        for height in stands.heights:
            found = stands.named(stands.point(flat, height))
            assert stands.point(*found) == pytest.approx(stands.point(flat, height))


def test_left_and_front_are_as_seen_from_the_front_of_the_machine():
    stands = Standing("-Z", "+X", PART)
    assert stands.point("part left front", "part top") == (-30.0, 25.0, -40.0)


@pytest.mark.parametrize("up", AXES)
def test_the_blank_stands_over_the_part_by_what_was_said_and_centred_beside_it(up):
    low, high = turned_box(rotation(up, directions_along_x(up)[0]), blank_box(PART, (70.0, 70.0, 70.0), up, 1.5))
    part_low, part_high = turned_box(rotation(up, directions_along_x(up)[0]), PART)
    assert high[2] - part_high[2] == pytest.approx(1.5)
    assert [a + b for a, b in zip(low[:2], high[:2], strict=True)] == pytest.approx(
        [a + b for a, b in zip(part_low[:2], part_high[:2], strict=True)]
    )


def test_upright_holes_are_places_and_slanted_or_lying_ones_are_not():
    holes = (a_hole(18.0, 0.0), a_hole(18.0, 0.0, diameter_mm=5.0), a_hole(-18.0, 0.0), a_hole(axis=RIGHT))
    stands = Standing("+Z", "+X", PART, holes=holes)
    assert [key for key in stands.flat_places if key.startswith("hole")] == ["hole 1", "hole 3"]
    assert stands.point("hole 3", "part top") == (-18.0, 0.0, 0.0)


def test_a_zero_is_told_by_what_each_coordinate_lies_on():
    stands = Standing("+Z", "+X", PART, blank_box(PART, (64.0, 54.0, 44.0), "+Z", 1.0))
    assert stands.references((-32.0, 25.0, 0.0)) == (
        Reference("left", "blank"), Reference("back", "part"), Reference("top", "part"),
    )  # fmt: skip
    assert stands.references((0.0, 0.0, 1.0)) == (
        Reference("middle", "blank and part"), Reference("middle", "blank and part"), Reference("top", "blank"),
    )  # fmt: skip


def test_a_zero_beside_every_place_is_told_by_its_distance_from_the_nearest():
    x, y, z = Standing("+Z", "+X", PART).references((-17.5, 25.0, -38.0))
    assert (x.side, x.off_mm, y.side, z.side, z.off_mm) == ("left", 12.5, "back", "bottom", 2.0)


def test_a_zero_in_a_hole_names_the_hole():
    stands = Standing("+Z", "+X", PART, holes=(a_hole(18.0, 10.0),))
    x, y, _ = stands.references((18.0, 10.0, 0.0))
    assert x == y == Reference("centre", "hole", diameter_mm=6.6)
