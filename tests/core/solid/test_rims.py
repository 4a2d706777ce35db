"""Holes whose rim is no circle: how deep they are, by the triangle under the slope and by the round of a bar."""

import math

import pytest

from tests.core.solid import parts


@pytest.mark.parametrize("degrees", [15.0, 30.0, 45.0])
def test_a_hole_in_a_slope_is_as_deep_as_from_its_highest_place(read_shape, degrees):
    """14 along the axis from the middle of the mouth, and r tan a more on the high side."""
    way = (math.sin(math.radians(degrees)), 0.0, math.cos(math.radians(degrees)))
    start = tuple(a + 12.0 * b for a, b in zip((30.0, 20.0, 20.0), way, strict=True))
    drill = parts.drill(8, 26.0, start, tuple(-part for part in way))
    (hole,) = read_shape(parts.cut(parts.box(60, 40, 20), drill)).holes
    assert hole.depth_mm == pytest.approx(14.0 + 4.0 * math.tan(math.radians(degrees)), abs=1e-4)


def test_a_hole_into_the_round_of_a_bar_is_as_deep_as_from_its_crest(read_shape):
    """A bar of radius 20 along Z, drilled along X to the middle: the rim's highest place lies on the bar's crest."""
    bar = parts.cut(parts.cylinder(20.0, 60.0), parts.drill(10, 30.0, (30.0, 0.0, 30.0), (-1.0, 0.0, 0.0)))
    (hole,) = read_shape(bar).holes
    assert hole.depth_mm == pytest.approx(20.0, abs=1e-4)
