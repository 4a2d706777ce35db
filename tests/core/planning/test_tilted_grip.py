"""Jaws on a tilted part: on flats that are there, and below every tool; one operation for one seat."""

import pytest

from shopflow.core.solid import FaceFacts, PlaneGroup
from shopflow.core.solid.reading import Level
from tests.core.planning.parts import BACK, FRONT, box_planes
from tests.core.planning.test_tilted import SIZE, WAY, planned, slanted, tilted

LOW = 15.0
"""Level of a slope along WAY: the block's lowest edge, which is its origin, is at 0."""


def test_jaws_end_below_a_slope_that_is_faced_with_the_part_tilted():
    """Its hole's mouth is 32.3 over the lowest edge, and the slope 15: 1 mm is kept under the cutter."""
    slope = PlaneGroup(WAY, 100.0, (Level(LOW, 100.0, (60,)),))
    assert tilted(planned(slanted())).holding.grip_mm > LOW
    assert tilted(planned(slanted(), planes=(*box_planes(*SIZE), slope))).holding.grip_mm == LOW - 1.0


def a_side(index, normal, low, high):
    middle = tuple((a + b) / 2 for a, b in zip(low, high, strict=True))
    return FaceFacts(index, 0, "plane", 100.0, middle, normal, 0.0, False, low_mm=low, high_mm=high)


def sides(from_mm):
    """The sides that the jaws close on, flat from this place along X on."""
    return (
        a_side(4, BACK, (from_mm, 40.0, 0.0), (60.0, 40.0, 20.0)),
        a_side(5, FRONT, (from_mm, 0.0, 0.0), (60.0, 0.0, 20.0)),
    )


@pytest.mark.parametrize(("from_mm", "is_gripped"), [(0.0, True), (1.0, True), (25.0, False)])
def test_a_vise_takes_a_tilted_part_only_by_sides_that_are_flat_at_its_lowest_edge(from_mm, is_gripped):
    """Right end up: the lowest edge is at X 0, where an edge may be broken but the sides may not be missing."""
    held = tilted(planned(slanted(), faces=sides(from_mm))).holding
    assert (held.grip_mm is not None) == is_gripped


def test_seats_of_different_holes_are_different_operations():
    other = slanted(position_mm=(45.0, 20.0, 20.0), bottom="flat", faces=(51,))
    keys = [one.key for one in tilted(planned(slanted(), other)).operations]
    assert len(keys) == len(set(keys))


def test_seats_of_holes_on_other_slopes_keep_their_number():
    """Six holes in two groups of the same size: six seats."""
    flat = [slanted(position_mm=(20.0 + n, 20.0, 20.0), bottom="flat", faces=(51 + n,)) for n in range(4)]
    pointed = [slanted(position_mm=(40.0 + n, 20.0, 20.0), faces=(61 + n,)) for n in range(2)]
    made = tilted(planned(*flat, *pointed)).operations
    assert sum(one.count for one in made if one.key.startswith("seat")) == len(flat) + len(pointed)
