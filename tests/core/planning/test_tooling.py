"""Tools from the crib: the largest that fits, the shortest that reaches, allowed uses kept, missing ones named."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning.hole_operations import HoleFacts, ThreadsShown
from shopflow.core.planning.operations import OperationKind, Speeds
from shopflow.core.planning.picking import point_mm, reach_mm
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.side_work import SideWork
from shopflow.core.planning.tooling import operations_of, picked, wanted
from shopflow.core.types import Material, ToolUse
from tests.core.planning.parts import MILL, a_hole, a_pocket, hss, tool

RULES = PlanRules()
ALUMINIUM = Material("6061", "aluminium", 2700.0)
NOTHING = {
    "up": "+Z", "facing_mm2": 0.0, "facing_depth_mm": 0.0, "facing_width_mm": 0.0, "depth_mm": 0.0, "inside_mm": 0.0,
    "outline_mm": 0.0, "allowance_mm": 2.5, "inside_mm3": 0.0, "wall_mm2": 0.0, "floor_mm2": 0.0,
}  # fmt: skip
NO_FACTS = HoleFacts()


def made(crib, rules=RULES, facts=NO_FACTS, **work):
    return operations_of(SideWork(**{**NOTHING, **work}), crib, rules, Speeds(ALUMINIUM, MILL), facts)


def drilled(holes, crib, rules=RULES, facts=NO_FACTS):
    return made(crib, rules, facts, holes=tuple(holes))


def numbers(operations):
    return [entry.tool.number for entry in picked(operations)]


def wants(operations):
    return [str(want) for want in wanted(operations)]


def kinds(operations):
    return [one.kind for one in operations]


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
    assert wants(drilled([a_hole(), a_hole(30.0)], [])) == [
        "a drill of ⌀6.6 mm that reaches 12 mm deep for 2 × hole ⌀6.6 mm through"
    ]


def test_a_missing_drill_is_named_in_inches_to_somebody_in_inches():
    assert "⌀0.25 in" in wants(drilled([a_hole(diameter_mm=6.35)], [], PlanRules(unit="in")))[0]


def test_an_operation_keeps_its_key_in_other_units():
    crib = [tool(1, "drill", 6.6)]
    keys = [[one.key for one in drilled([a_hole()], crib, PlanRules(unit=unit))] for unit in ("mm", "in")]
    assert keys[0] == keys[1]


def test_equal_holes_ask_for_their_drill_once():
    found = drilled([a_hole(), a_hole(30.0), a_hole(50.0)], [tool(1, "drill", 6.6)])
    assert [entry.purpose for entry in picked(found)] == ["3 × hole ⌀6.6 mm through"]


def test_allowed_uses_bind():
    never_drills = tool(1, "drill", 6.6, uses=frozenset({ToolUse.SPOT}))
    assert numbers(drilled([a_hole()], [never_drills])) == []


def test_a_counterbore_is_cut_by_the_largest_end_mill_under_it():
    bored = a_hole(counterbore_mm=11.0, counterbore_depth_mm=6.0)
    crib = [tool(1, "drill", 6.6), tool(2, "flat end mill", 8.0), tool(3, "flat end mill", 10.0)]
    assert numbers(drilled([bored], crib)) == [1, 2]


def test_a_countersink_of_another_angle_is_not_taken():
    sunk = a_hole(countersink_mm=12.0, countersink_angle_deg=82.0)
    found = drilled([sunk], [tool(1, "drill", 6.6), tool(2, "countersink", 16.0, point_angle_deg=90.0)])
    assert numbers(found) == [1]
    assert "82°" in wants(found)[0]


def test_a_countersink_goes_as_deep_as_the_handbook_says():
    """Worked example HT-10: ⌀10 in a hole of ⌀5 at 90° is 2.5 deep."""
    sunk = a_hole(diameter_mm=5.0, countersink_mm=10.0, countersink_angle_deg=90.0)
    found = drilled([sunk], [tool(1, "drill", 5.0), tool(2, "countersink", 16.0, point_angle_deg=90.0)])
    assert found[-1].depth_mm == pytest.approx(2.5)


def test_the_wider_far_end_of_a_hole_is_cut_in_the_setup_that_sees_it():
    hole = a_hole(far_counterbore_mm=11.0, far_counterbore_depth_mm=6.0)
    found = made([tool(1, "flat end mill", 8.0)], far=(hole,))
    assert kinds(found) == [OperationKind.COUNTERBORE]


TAPPED = a_hole(diameter_mm=5.0, thread_guess="M6 (tap drill) or 1/4-20 (minor diameter)")
TAP_CRIB = [tool(1, "drill", 5.0), tool(2, "tap", 6.0, pitch_mm=1.0), tool(3, "tap", 6.0, pitch_mm=0.75)]


def test_a_thread_is_tapped_after_its_drill_with_the_tap_of_its_pitch():
    found = drilled([TAPPED], TAP_CRIB, facts=HoleFacts(threads=ThreadsShown.MINOR))
    assert (kinds(found), numbers(found)) == ([OperationKind.DRILL, OperationKind.TAP], [1, 2])


def test_a_hole_of_a_tap_drill_s_size_is_no_thread_until_somebody_says_so():
    assert kinds(drilled([TAPPED], TAP_CRIB)) == [OperationKind.DRILL]


def test_a_thread_that_the_model_shows_at_its_major_diameter_gets_its_tap_drill():
    """M6 × 1: drilled 5.0 (tap-drills.csv; HT-06: 76.98 % of thread), though the model's hole is ⌀6."""
    crib = [*TAP_CRIB, tool(4, "drill", 6.0)]
    found = drilled([a_hole(diameter_mm=6.0)], crib, facts=HoleFacts(threads=ThreadsShown.MAJOR))
    assert (kinds(found), numbers(found)) == ([OperationKind.DRILL, OperationKind.TAP], [1, 2])


def test_a_missing_tap_is_named():
    assert "a tap M6" in wants(drilled([TAPPED], TAP_CRIB[:1], facts=HoleFacts(threads=ThreadsShown.MINOR)))[0]


@pytest.mark.parametrize(
    ("width", "expected"), [(0.018, [OperationKind.DRILL, OperationKind.REAM]), (0.1, [OperationKind.DRILL])]
)
def test_a_hole_of_a_narrow_tolerance_is_drilled_under_size_and_reamed(width, expected):
    """8 H7 is 18 µm wide (ISO 286-1, band 6 to 10)."""
    crib = [tool(1, "drill", 7.8), tool(2, "reamer", 8.0)]
    found = drilled([a_hole(diameter_mm=8.0)], crib, facts=HoleFacts(tolerance_mm={7: width}))
    assert kinds(found) == expected


def test_walls_are_cut_by_the_largest_end_mill_that_reaches():
    crib = [tool(1, "flat end mill", 20.0, flute_length_mm=15.0), tool(2, "flat end mill", 12.0, flute_length_mm=26.0)]
    assert numbers(made(crib, depth_mm=20.0, outline_mm=200.0, wall_mm2=4000.0)) == [2]


def test_a_shallow_step_is_cut_by_a_tool_that_could_not_cut_the_outside():
    crib = [tool(1, "flat end mill", 20.0, flute_length_mm=15.0), tool(2, "flat end mill", 12.0, flute_length_mm=26.0)]
    found = made(crib, depth_mm=20.0, inside_mm=5.0, outline_mm=200.0, inside_mm3=9000.0)
    assert {one.what: one.tool.number for one in found if one.kind is OperationKind.ROUGH} == {
        "outside, 20 mm deep": 2, "steps and hollows, down to 5 mm": 1,
    }  # fmt: skip


def test_a_hole_that_nothing_cuts_waits_for_its_drill():
    assert kinds(drilled([a_hole()], [])) == [OperationKind.DRILL]


def test_a_corner_gets_a_tool_of_less_than_its_own_radius():
    """Radius 4 and a share of 0.9: at most ⌀7.2, so ⌀8 of the corner's own radius is passed over."""
    crib = [tool(1, "flat end mill", 16.0), tool(2, "flat end mill", 8.0), tool(3, "flat end mill", 6.0)]
    assert numbers(made(crib, depth_mm=20.0, pockets=(a_pocket(radius_mm=4.0),))) == [1, 3]


def test_a_pocket_is_roughed_by_a_tool_that_turns_in_it():
    """8 wide and a share of 0.8: at most ⌀6.4."""
    crib = [tool(1, "flat end mill", 8.0), tool(2, "flat end mill", 6.0)]
    assert numbers(made(crib, depth_mm=20.0, pockets=(a_pocket(width_mm=8.0, radius_mm=4.0),))) == [2]


def test_a_corner_that_no_tool_fits_is_named():
    found = made([tool(1, "flat end mill", 16.0)], depth_mm=20.0, pockets=(a_pocket(radius_mm=1.0),))
    assert any(text.startswith("an end mill of at most ⌀1.8 mm that reaches 10 mm deep") for text in wants(found))


def test_the_top_is_faced_by_the_smallest_face_mill_that_covers_it():
    crib = [tool(1, "face mill", 80.0), tool(2, "face mill", 50.0), tool(3, "face mill", 40.0)]
    assert numbers(made(crib, facing_mm2=4500.0, facing_depth_mm=1.5, facing_width_mm=45.0)) == [2]


def test_stock_thicker_than_one_pass_is_faced_in_several():
    found = made([tool(1, "face mill", 50.0)], facing_mm2=4500.0, facing_depth_mm=5.5, facing_width_mm=45.0)
    assert (found[0].passes, found[0].axial_mm) == (2, 2.75)


def test_edges_are_broken_where_the_crib_has_a_chamfer_mill_and_left_to_the_bench_where_not():
    assert numbers(made([tool(1, "chamfer mill", 10.0)], edges_mm=100.0)) == [1]
    assert wanted(made([], edges_mm=100.0)) == ()


def test_a_chamfer_of_the_model_asks_for_a_cutter_of_its_angle():
    crib = [tool(1, "chamfer mill", 10.0, point_angle_deg=60.0, tip_diameter_mm=1.0)]
    assert "a chamfer mill of 90°" in wants(made(crib, chamfers=((1.0, 90.0, 50.0),)))[0]


def test_rows_of_a_ball_are_as_far_apart_as_the_scallop_allows():
    """Worked example CU-18 (two web calculators): ⌀6 and 0.005 high are 0.3463 apart."""
    found = made([tool(1, "ball end mill", 6.0)], PlanRules(scallop_mm=0.005), surface_mm2=346.3)
    assert found[0].radial_mm == pytest.approx(0.3463, abs=1e-4)
    assert found[0].length_mm == pytest.approx(1000.0, rel=1e-3)


def test_a_hollow_gets_a_ball_no_larger_than_itself():
    crib = [tool(1, "ball end mill", 10.0), tool(2, "ball end mill", 6.0)]
    assert numbers(made(crib, surface_mm2=100.0, hollow_mm=4.0)) == [2]


def test_a_relieved_neck_reaches_to_the_holder_and_a_thick_shank_does_not():
    assert reach_mm(tool(1, "flat end mill", 6.0, neck_diameter_mm=5.8, flute_length_mm=9.0)) == 45.0
    assert reach_mm(tool(1, "flat end mill", 6.0, neck_diameter_mm=6.0, flute_length_mm=9.0)) == 9.0


SHAPES = ["flat end mill", "drill", "spot drill", "reamer", "countersink", "counterbore", "chamfer mill", "face mill"]
CRIBS = st.lists(
    st.builds(
        lambda number, shape, size, length, uses: tool(
            number, shape, size, flute_length_mm=length, point_angle_deg=90.0, uses=frozenset(uses)
        ),
        st.integers(1, 99), st.sampled_from(SHAPES), st.floats(1.0, 25.0), st.floats(2.0, 40.0),
        st.lists(st.sampled_from(ToolUse), max_size=3),
    ),
    max_size=12,
    unique_by=lambda one: one.number,
)  # fmt: skip
HOLES = st.lists(
    st.builds(lambda d, deep, wide: a_hole(diameter_mm=d, depth_mm=deep, counterbore_mm=wide, counterbore_depth_mm=3.0),
              st.floats(1.0, 24.0), st.floats(1.0, 35.0), st.none() | st.just(25.0)),
    max_size=4,
)  # fmt: skip


@given(CRIBS, HOLES, st.floats(1.0, 30.0), st.floats(0.5, 8.0))
def test_every_tool_is_of_the_crib_may_do_it_and_gets_as_deep(crib, holes, depth, radius):
    pocket = a_pocket(depth_mm=depth, radius_mm=radius)
    for one in made(crib, holes=tuple(holes), pockets=(pocket,), depth_mm=depth, outline_mm=100.0, edges_mm=9.0):
        assert (one.tool is None) == (one.wanted is not None)
        if one.tool is not None:
            assert one.tool in crib
            allowed = {one.use, ToolUse.FLOOR, ToolUse.CHAMFER, ToolUse.SPOT}
            if one.use is ToolUse.FLOOR:
                allowed.add(ToolUse.WALL)  # a mill that finishes walls meets the floor, as the review has it too
            assert not one.tool.uses or one.tool.uses & allowed
            if one.tool.shape in ("flat end mill", "drill"):
                assert reach_mm(one.tool) >= one.depth_mm - 1e-6
