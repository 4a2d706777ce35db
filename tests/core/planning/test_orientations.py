"""The fewest orientations that reach everything, turned over once, in an order that can be held."""

import itertools

from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning.directions import AXES, flat_axes, height_axis, name_of, opposite
from shopflow.core.planning.needs import hole_sides, needs_of, plane_sides
from shopflow.core.planning.orientations import fewest_sides, orientations
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid import PlaneGroup
from tests.core.planning.parts import BACK, DOWN, FRONT, LEFT, RIGHT, UP, a_hole, a_pocket, a_reading

RULES = PlanRules()


def sides_of(reading):
    made, _ = orientations(needs_of(reading, RULES))
    return [orientation.up for orientation in made]


def test_a_plate_with_through_holes_takes_two_setups():
    assert sides_of(a_reading()) == ["+Z", "-Z"]


def test_the_side_with_more_to_cut_comes_first():
    below = a_hole(axis=DOWN, through=False, bottom="pointed", depth_mm=6.0, reach=(DOWN,))
    assert sides_of(a_reading(holes=[below])) == ["-Z", "+Z"]


def test_a_hole_in_the_edge_takes_a_third_setup_after_both_faces():
    cross = a_hole(axis=RIGHT, depth_mm=60.0, reach=(RIGHT, LEFT), position_mm=(60.0, 20.0, 6.0))
    sides = sides_of(a_reading(holes=[cross, a_hole(), a_hole(50.0, 30.0)]))
    assert sides[:2] == ["+Z", "-Z"]
    assert len(sides) == 3
    assert sides[2] in ("+X", "-X")


def test_blind_holes_from_two_opposite_edges_take_those_edges_as_the_pair():
    right = a_hole(axis=RIGHT, through=False, bottom="pointed", depth_mm=9.0, reach=(RIGHT,))
    left = a_hole(axis=LEFT, through=False, bottom="pointed", depth_mm=9.0, reach=(LEFT,))
    assert set(sides_of(a_reading(holes=[right, left]))) == {"+X", "-X"}


def test_a_counterbore_is_cut_from_its_own_mouth():
    bored = a_hole(counterbore_mm=11.0, counterbore_depth_mm=4.0)
    assert hole_sides(bored) == {"+Z"}


def test_a_blind_pocket_is_cut_from_where_it_opens():
    made, _ = orientations(needs_of(a_reading(holes=[], pockets=(a_pocket(axis=DOWN, reach=(DOWN,)),)), RULES))
    assert [orientation.up for orientation in made if orientation.pockets] == ["-Z"]


def test_a_slanted_hole_is_named_as_out_of_reach():
    slanted = a_hole(axis=(0.6, 0.0, 0.8), through=False, bottom="pointed", reach=((0.6, 0.0, 0.8),))
    _, unreached = orientations(needs_of(a_reading(holes=[slanted]), RULES))
    assert [need.what for need in unreached] == ["hole ⌀6.6 mm 12 mm deep, slanted"]


def test_every_need_is_cut_once_or_named():
    reading = a_reading(holes=[a_hole(), a_hole(axis=(0.6, 0.0, 0.8), reach=((0.6, 0.0, 0.8),))])
    needs = needs_of(reading, RULES)
    made, unreached = orientations(needs)
    assert sorted(map(id, [*itertools.chain(*(o.needs for o in made)), *unreached])) == sorted(map(id, needs))


def test_a_plane_is_hidden_from_behind_only():
    assert plane_sides(PlaneGroup(UP, 1.0, ())) == set(AXES) - {"-Z"}


def test_a_slope_is_cut_from_the_sides_it_looks_to_or_stands_square_to():
    slope = PlaneGroup((0.8, 0.0, 0.6), 1.0, ())
    assert plane_sides(slope) == {"+X", "+Z", "+Y", "-Y"}


reaches = st.sets(st.sampled_from([UP, DOWN, RIGHT, LEFT, BACK, FRONT]), min_size=1).map(tuple)


@given(st.lists(reaches, max_size=6))
def test_the_sides_reach_every_hole_and_no_smaller_set_does(all_reaches):
    holes = [a_hole(axis=reach[0], through=False, bottom="flat", reach=reach) for reach in all_reaches]
    needs = needs_of(a_reading(holes=holes), RULES)
    found = fewest_sides(needs)
    wanted = [need.sides for need in needs]

    def reaches_all(sides):
        return any(opposite(s) in sides for s in sides) and all(sides_ & set(sides) for sides_ in wanted)

    assert reaches_all(found)
    assert not any(reaches_all(sides) for sides in itertools.combinations(AXES, len(found) - 1))


def test_every_axis_knows_its_name_its_opposite_and_what_lies_flat():
    for name, axis in AXES.items():
        assert name_of(axis) == name
        assert name_of(AXES[opposite(name)]) == opposite(name)
        assert {height_axis(name), *flat_axes(name)} == {0, 1, 2}
