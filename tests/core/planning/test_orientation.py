"""How a part stands by angles: the rotation against matrices multiplied by numpy, and which places of it are places."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.orientation import AXES, rotation
from shopflow.core.planning import Standing
from tests.core.planning.parts import a_hole

STANDS = [(up, along) for up in AXES for along in AXES if up[1] != along[1]]
ANGLES = st.floats(-360.0, 360.0)
PART = ((-32.0, -25.0, -40.0), (32.0, 25.0, 0.0))


def matrix(rows):
    return np.array(rows).reshape(3, 3)


def about(axis, degrees):
    """Counter-clockwise as seen from the plus end of the axis: what lies along the next axis goes to the one after."""
    made, turn = np.eye(3), np.radians(degrees)
    one, two = (axis + 1) % 3, (axis + 2) % 3
    made[one, one] = made[two, two] = np.cos(turn)
    made[two, one], made[one, two] = np.sin(turn), -np.sin(turn)
    return made


@given(st.sampled_from(STANDS), ANGLES, ANGLES, ANGLES)
def test_a_part_is_tilted_about_x_then_y_and_turned_about_z_last(stands, x, y, z):
    wanted = about(2, z) @ about(1, y) @ about(0, x) @ matrix(rotation(*stands))
    assert np.allclose(matrix(rotation(*stands, (x, y, z))), wanted, atol=1e-12)


def test_a_turn_about_z_is_counter_clockwise_from_above():
    turned = matrix(rotation("+Z", "+X", (0.0, 0.0, 30.0))) @ (1.0, 0.0, 0.0)
    assert turned == pytest.approx((np.cos(np.pi / 6), 0.5, 0.0))


def test_a_tilt_about_x_lifts_the_back():
    assert (matrix(rotation("+Z", "+X", (20.0, 0.0, 0.0))) @ (0.0, 1.0, 0.0))[2] > 0.0


def test_a_tilt_about_y_lowers_the_right_side():
    assert (matrix(rotation("+Z", "+X", (0.0, 20.0, 0.0))) @ (1.0, 0.0, 0.0))[2] < 0.0


@pytest.mark.parametrize("degrees", [90.0, 180.0, -90.0, 270.0])
def test_a_right_angle_is_one_to_the_last_bit(degrees):
    assert set(rotation("+Z", "+X", (0.0, 0.0, degrees))) <= {-1.0, 0.0, 1.0}


def test_a_turned_part_has_heights_and_holes_but_no_sides_for_a_zero():
    stands = Standing("+Z", "+X", PART, holes=(a_hole(18.0, 10.0),), angles=(0.0, 0.0, 30.0))
    assert set(stands.flat_places) == {"hole 1"} and set(stands.heights) == {"part top", "part bottom"}
    assert stands.point("hole 1", "part top") == pytest.approx((18.0, 10.0, 0.0))


def test_a_tilted_part_has_no_named_place():
    stands = Standing("+Z", "+X", PART, holes=(a_hole(18.0, 10.0),), angles=(30.0, 0.0, 0.0))
    assert not stands.flat_places and not stands.heights
    assert stands.references((18.0, 10.0, 0.0)) is None


def test_a_hole_that_a_tilt_brings_upright_is_a_place():
    hole = a_hole(18.0, 10.0, axis=(0.0, np.sin(np.pi / 6), np.cos(np.pi / 6)))
    assert set(Standing("+Z", "+X", PART, holes=(hole,), angles=(30.0, 0.0, 0.0)).upright_holes) == {"hole 1"}
