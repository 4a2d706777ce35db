"""Holes that are made the same way are one group, wherever they are."""

from dataclasses import replace

import pytest

from shopflow.core.planning import group_holes
from tests.core.planning.parts import DOWN, a_hole


def test_equal_holes_in_other_places_and_directions_are_one_group():
    groups = group_holes((a_hole(), a_hole(30.0), a_hole(axis=DOWN)))
    assert [group.count for group in groups] == [3]


@pytest.mark.parametrize(
    "other",
    [
        {"diameter_mm": 6.7}, {"depth_mm": 11.0}, {"through": False, "bottom": "flat"}, {"counterbore_mm": 11.0},
        {"countersink_mm": 12.0}, {"thread_guess": "M8"},
    ],
)  # fmt: skip
def test_holes_that_are_made_otherwise_are_another_group(other):
    assert len(group_holes((a_hole(), replace(a_hole(), **other)))) == 2


def test_noise_far_below_any_tool_s_size_does_not_split_a_group():
    assert len(group_holes((a_hole(diameter_mm=6.6), a_hole(diameter_mm=6.6000001)))) == 1


def test_the_largest_group_comes_first():
    groups = group_holes((a_hole(diameter_mm=5.0), a_hole(), a_hole(30.0)))
    assert [group.first.diameter_mm for group in groups] == [6.6, 5.0]


def test_a_group_names_the_faces_of_all_its_holes():
    assert group_holes((a_hole(faces=(1,)), a_hole(faces=(2, 3))))[0].faces == [1, 2, 3]
