"""How a part stands so that a slanted direction looks up."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning.directions import AXES
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.tilting.angles import as_set, looking_up, slant_key
from shopflow.core.planning.tilting.sine import blocks_high, gauge_blocks_mm

PARTS = st.floats(-1.0, 1.0, allow_nan=False)
DIRECTIONS = st.tuples(PARTS, PARTS, PARTS).filter(lambda way: math.hypot(*way) > 1e-3)


def seen(stand, way):
    """A direction of the model along the machine's axes, as a unit vector."""
    unit = [part / math.hypot(*way) for part in way]
    return [sum(a * b for a, b in zip(stand.rows[n : n + 3], unit, strict=True)) for n in (0, 3, 6)]


@given(DIRECTIONS)
def test_any_direction_comes_to_look_along_the_machine_s_z(way):
    assert seen(looking_up(way), way) == pytest.approx([0.0, 0.0, 1.0], abs=1e-9)


@given(DIRECTIONS)
def test_angles_as_they_are_set_are_off_by_less_than_a_second_of_arc(way):
    x, y, _ = seen(as_set(looking_up(way)), way)
    assert math.degrees(math.hypot(x, y)) * 3600 < 1.1


@given(DIRECTIONS)
def test_no_angle_is_steeper_than_a_sine_bar_sets_well(way):
    about_x, about_y, turned = looking_up(way).angles
    assert max(abs(about_x), abs(about_y)) <= 45.0 + 1e-6
    assert turned == 0.0


@given(st.sampled_from(sorted(AXES)), st.sampled_from(sorted(AXES)), st.integers(1, 89))
def test_a_direction_between_two_sides_takes_one_angle_about_y(one, other, degrees):
    if one[1] == other[1]:
        return
    rise, fall = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    way = tuple(rise * a + fall * b for a, b in zip(AXES[one], AXES[other], strict=True))
    stand = as_set(looking_up(way))
    assert stand.angles[0] == 0.0
    assert abs(stand.angles[1]) == min(degrees, 90 - degrees)


def test_a_side_that_looks_up_already_takes_no_angle():
    assert looking_up((0.0, 0.0, 2.0)).angles == (0.0, 0.0, 0.0)


def test_an_angle_read_to_six_decimals_is_taken_as_the_round_one_it_is():
    """sin 22° and cos 22° as a reading rounds them."""
    assert as_set(looking_up((0.0, 0.374607, -0.927184))).angles == (0.0, -22.0, 0.0)


def test_a_slanted_direction_keeps_its_name_through_noise_and_minus_zero():
    assert slant_key((0.5000001, -1e-9, 0.8660254)) == slant_key((0.4999999, 0.0, 0.8660250)) == "0.500,0.000,0.866"


@pytest.mark.parametrize(
    ("bar", "angle", "height"), [(100.0, 30.0, 50.0), (100.0, 22.0, 37.4607), (127.0, 45.0, 89.8026)]
)
def test_gauge_blocks_are_as_high_as_the_bar_is_long_times_the_sine(bar, angle, height):
    """H = L sin a, the definition of the sine bar; sines from a four-figure table (0.5, 0.374607, 0.707107)."""
    assert gauge_blocks_mm(bar, angle) == pytest.approx(height, abs=5e-5)


def test_a_five_inch_bar_at_thirty_degrees_stands_on_two_and_a_half_inches():
    assert blocks_high(30.0, PlanRules(unit="in", sine_bar_mm=127.0)) == "2.50000 in"
