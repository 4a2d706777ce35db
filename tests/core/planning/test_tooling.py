"""Tools from the crib: the largest that fits, the shortest that reaches, allowed uses kept, missing ones named."""

import math

import pytest

from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.tooling import Cut, point_mm, reach_mm, tooling
from shopflow.core.types import ToolUse
from tests.core.planning.parts import a_hole, hss, tool

RULES = PlanRules()
NO_CUT = Cut(faces_mm=0.0, depth_mm=0.0, corner_mm=None, has_sharp_edges=False)


def drilled(holes, crib, rules=RULES):
    return tooling(NO_CUT, holes, crib, rules)


def numbers(made):
    return [entry.tool.number for entry in made.picked]


def test_a_hole_gets_the_drill_of_its_size():
    assert numbers(drilled([a_hole()], [tool(1, "drill", 6.5), tool(2, "drill", 6.6)])) == [2]


def test_of_two_drills_the_shorter_that_gets_down_is_taken():
    crib = [tool(1, "drill", 6.6, flute_length_mm=80.0), tool(2, "drill", 6.6, flute_length_mm=40.0)]
    assert numbers(drilled([a_hole()], crib)) == [2]


def test_a_drill_that_does_not_reach_through_with_its_point_is_not_taken():
    """12 deep, and a point of 118° on ⌀6.6 is 6.6 / 2 / tan 59° = 1.98 high: 13.9 is too short, 14 is not."""
    assert not numbers(drilled([a_hole()], [tool(1, "drill", 6.6, point_angle_deg=118, flute_length_mm=13.9)]))
    assert numbers(drilled([a_hole()], [tool(1, "drill", 6.6, point_angle_deg=118, flute_length_mm=14.0)])) == [1]


@pytest.mark.parametrize(("angle", "factor"), [(118.0, 0.3004), (135.0, 0.2071), (90.0, 0.5)])
def test_the_height_of_a_drill_point_is_that_of_the_handbook(angle, factor):
    """Height over diameter of a drill point: 0.30 at 118°, 0.207 at 135° (computed: 1 / (2 tan half the angle))."""
    assert point_mm(tool(1, "drill", 10.0, point_angle_deg=angle)) == pytest.approx(10 * factor, abs=2e-3)
    assert factor == pytest.approx(0.5 / math.tan(math.radians(angle / 2)), abs=2e-4)


def test_a_high_speed_steel_drill_is_spotted_first():
    assert numbers(drilled([a_hole()], [hss(1, "drill", 6.6), tool(2, "spot drill", 6.0)])) == [2, 1]


def test_a_carbide_drill_starts_by_itself():
    assert numbers(drilled([a_hole()], [tool(1, "drill", 6.6), tool(2, "spot drill", 6.0)])) == [1]


def test_without_a_drill_the_largest_end_mill_under_the_hole_bores_it():
    crib = [tool(1, "flat end mill", 10.0), tool(2, "flat end mill", 16.0), tool(3, "flat end mill", 20.0)]
    assert numbers(drilled([a_hole(diameter_mm=20.0)], crib)) == [2]


def test_a_flat_bottom_is_never_left_by_a_drill():
    flat = a_hole(through=False, bottom="flat", diameter_mm=10.0)
    assert numbers(drilled([flat], [tool(1, "drill", 10.0), tool(2, "flat end mill", 8.0)])) == [2]


def test_a_missing_drill_is_named_with_size_and_depth():
    made = drilled([a_hole(), a_hole(30.0)], [])
    assert [str(want) for want in made.wanted] == [
        "a drill of ⌀6.6 mm that reaches 12 mm deep for 2 × hole ⌀6.6 mm through"
    ]


def test_a_missing_drill_is_named_in_inches_to_somebody_in_inches():
    made = drilled([a_hole(diameter_mm=6.35)], [], PlanRules(unit="in"))
    assert "⌀0.25 in" in str(made.wanted[0])


def test_equal_holes_ask_for_their_drill_once():
    made = drilled([a_hole(), a_hole(30.0), a_hole(50.0)], [tool(1, "drill", 6.6)])
    assert [entry.purpose for entry in made.picked] == ["3 × hole ⌀6.6 mm through"]


def test_allowed_uses_bind():
    never_drills = tool(1, "drill", 6.6, uses=frozenset({ToolUse.SPOT}))
    assert numbers(drilled([a_hole()], [never_drills])) == []


def test_a_counterbore_is_cut_by_the_largest_end_mill_under_it():
    bored = a_hole(counterbore_mm=11.0, counterbore_depth_mm=6.0)
    made = drilled([bored], [tool(1, "drill", 6.6), tool(2, "flat end mill", 8.0), tool(3, "flat end mill", 10.0)])
    assert numbers(made) == [1, 2]


def test_a_countersink_of_another_angle_is_not_taken():
    sunk = a_hole(countersink_mm=12.0, countersink_angle_deg=82.0)
    crib = [tool(1, "drill", 6.6), tool(2, "countersink", 16.0, point_angle_deg=90.0)]
    made = drilled([sunk], crib)
    assert numbers(made) == [1]
    assert "82°" in str(made.wanted[0])


def milled(cut, crib):
    return tooling(cut, [], crib, RULES)


def test_walls_are_cut_by_the_largest_end_mill_that_reaches():
    crib = [tool(1, "flat end mill", 20.0, flute_length_mm=15.0), tool(2, "flat end mill", 12.0, flute_length_mm=26.0)]
    assert numbers(milled(Cut(0.0, 20.0, None, False), crib)) == [2]


def test_a_corner_gets_a_tool_of_less_than_its_own_radius():
    """Radius 4 and a share of 0.9: at most ⌀7.2, so ⌀8 of the corner's own radius is passed over."""
    crib = [tool(1, "flat end mill", 16.0), tool(2, "flat end mill", 8.0), tool(3, "flat end mill", 6.0)]
    assert numbers(milled(Cut(0.0, 20.0, 4.0, False), crib)) == [1, 3]


def test_a_corner_that_no_tool_fits_is_named():
    made = milled(Cut(0.0, 20.0, 1.0, False), [tool(1, "flat end mill", 16.0)])
    assert str(made.wanted[0]).startswith("an end mill of at most ⌀1.8 mm that reaches 20 mm deep")


def test_the_top_is_faced_by_the_smallest_face_mill_that_covers_it():
    crib = [tool(1, "face mill", 80.0), tool(2, "face mill", 50.0), tool(3, "face mill", 40.0)]
    assert numbers(milled(Cut(45.0, 0.0, None, False), crib)) == [2]


def test_edges_are_broken_where_the_crib_has_a_chamfer_mill_and_left_to_the_bench_where_not():
    edges = Cut(0.0, 0.0, None, True)
    assert numbers(milled(edges, [tool(1, "chamfer mill", 10.0)])) == [1]
    assert milled(edges, []).wanted == []


def test_a_relieved_neck_reaches_to_the_holder_and_a_thick_shank_does_not():
    assert reach_mm(tool(1, "flat end mill", 6.0, neck_diameter_mm=5.8, flute_length_mm=9.0)) == 45.0
    assert reach_mm(tool(1, "flat end mill", 6.0, neck_diameter_mm=6.0, flute_length_mm=9.0)) == 9.0
