"""Depth and width of a pass that a person typed: path, speed, power and minutes follow; what cannot be is said."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.errors import NotPossible
from shopflow.core.planning.minutes import Typed, timed
from shopflow.core.planning.operations import Operation, OperationKind, Speeds
from shopflow.core.planning.passes import cautions, checked, repassed, why_not
from shopflow.core.planning.rules import PlanRules
from shopflow.core.types import Machine, Material
from tests.core.planning.parts import tool

ALUMINIUM = Material("6061", "aluminium", 2700.0, unit_power_kw_cm3_min=0.012)
QUICK = Machine("quick", (500.0,) * 3, (1e9,) * 3, (1e9,) * 3, 20000.0, 1.0, 20000.0, 50.0, tool_change_s=6.0)
END_MILL = tool(1, "flat end mill", 12.0)
SPEEDS = Speeds(ALUMINIUM, QUICK)
SAY = PlanRules().say


def an_operation(kind, of=END_MILL, **sizes):
    return Operation(kind, str(kind), str(kind), of, **sizes)


def pocketed():
    return an_operation(OperationKind.ROUGH, volume_mm3=1e5, depth_mm=18.0, axial_mm=6.0, radial_mm=4.8)


def outside():
    return an_operation(
        OperationKind.ROUGH, length_mm=400.0, depth_mm=18.0, width_mm=4.0, axial_mm=6.0, radial_mm=4.0, passes=3
    )


def faced():
    return an_operation(
        OperationKind.FACE, length_mm=500.0, count=5, depth_mm=3.0, width_mm=40.0, axial_mm=1.5, radial_mm=8.0, passes=2
    )


def walled():
    return an_operation(OperationKind.WALLS, length_mm=400.0, depth_mm=18.0, axial_mm=18.0, radial_mm=0.3)


def floored():
    return an_operation(OperationKind.FLOORS, length_mm=400.0, depth_mm=18.0, axial_mm=0.3, radial_mm=6.0)


@pytest.mark.parametrize("operation", [outside(), walled()])
def test_a_wall_is_cut_in_as_many_passes_as_the_typed_depth_goes_into_its_own(operation):
    assert repassed(operation, axial_mm=4.0).passes == 5


def test_a_face_has_as_many_rows_as_the_typed_width_goes_into_its_own():
    made = repassed(faced(), radial_mm=10.0)
    assert (made.count, made.length_mm) == (4, 400.0)


def test_a_narrower_width_goes_round_the_outline_more_than_once():
    assert repassed(outside(), radial_mm=1.0).length_mm == 1600.0


def test_half_the_width_is_twice_the_path_over_a_floor():
    assert repassed(floored(), radial_mm=3.0).length_mm == 800.0


@given(st.floats(0.2, 18.0), st.floats(0.2, 12.0))
def test_roughing_a_volume_takes_it_over_width_depth_and_feed(axial, radial):
    made = timed(pocketed(), SPEEDS, Typed(axial_mm=axial, radial_mm=radial))
    cutting = 1e5 / (axial * radial * made.speed.feed_mm_min)
    assert 1.35 * cutting <= made.minutes <= 1.35 * cutting + 18.0 / axial * 12.0 * 4 / made.speed.feed_mm_min + 0.01


def test_a_narrow_pass_feeds_faster_for_its_thin_chip():
    """D / (2 √(ae (D − ae))): 12 / (2 √(1 × 11)) at 1 mm of 12, and nothing from half the diameter on."""
    narrow, half = (timed(pocketed(), SPEEDS, Typed(axial_mm=2.0, radial_mm=wide)) for wide in (1.0, 6.0))
    assert narrow.speed.feed_mm_min / half.speed.feed_mm_min == pytest.approx(12 / (2 * 11**0.5), rel=1e-3)


def test_a_pass_that_is_too_heavy_for_the_spindle_is_fed_slower():
    small = replace(QUICK, power_kw=1.5)
    light, heavy = (timed(pocketed(), Speeds(ALUMINIUM, small), Typed(axial_mm=deep)) for deep in (2.0, 18.0))
    assert heavy.speed.feed_mm_min < light.speed.feed_mm_min


def test_a_typed_feed_that_the_spindle_cannot_give_is_said():
    speeds, typed = Speeds(ALUMINIUM, replace(QUICK, power_kw=1.5)), Typed(axial_mm=18.0, feed_mm_min=9000.0)
    [said] = cautions(pocketed(), timed(pocketed(), speeds, typed), 18.0, None, speeds, SAY)
    assert said.startswith("It takes ") and "quick has 1.5 kW" in said


@pytest.mark.parametrize(
    ("operation", "typed", "because"),
    [
        (pocketed(), (30.5, None), "length of cut, 30 mm"),
        (pocketed(), (None, 12.1), "T1 is 12 mm wide"),
        (pocketed(), (0.0, None), "depth of a pass is more than 0"),
        (pocketed(), (None, -1.0), "width of a pass is more than 0"),
        (an_operation(OperationKind.DRILL, tool(2, "drill", 6.0), depth_mm=12.0), (3.0, None), "type its pecks"),
    ],
)
def test_what_the_tool_cannot_do_is_refused_with_why(operation, typed, because):
    with pytest.raises(NotPossible, match=because):
        checked(operation, *typed, SAY)


def test_the_whole_length_of_cut_and_the_whole_diameter_are_not_refused():
    assert why_not(pocketed(), 30.0, 12.0, SAY) == ""


def test_a_typed_width_over_a_smaller_tool_counts_as_the_tool_s_and_is_said():
    smaller = replace(pocketed(), tool=tool(3, "flat end mill", 6.0))
    made = timed(smaller, SPEEDS, Typed(radial_mm=10.0))
    [said] = cautions(smaller, made, None, 10.0, SPEEDS, SAY)
    assert (made.radial_mm, "T3 is 6 mm wide" in said) == (6.0, True)


def test_a_depth_that_another_tool_s_flutes_do_not_have_is_cut_in_more_passes():
    short = replace(walled(), tool=tool(3, "flat end mill", 12.0, flute_length_mm=6.0))
    assert repassed(short).passes == 3


def test_a_full_slot_deeper_than_the_cutter_is_wide_is_said():
    made = timed(pocketed(), SPEEDS, Typed(axial_mm=15.0, radial_mm=12.0))
    assert any("full width" in said for said in cautions(pocketed(), made, 15.0, 12.0, SPEEDS, SAY))


def test_a_depth_beyond_the_feature_s_is_said():
    made = timed(pocketed(), SPEEDS, Typed(axial_mm=25.0, radial_mm=1.0))
    assert cautions(pocketed(), made, 25.0, 1.0, SPEEDS, SAY) == ["Only 18 mm deep is there to cut."]


def test_a_width_beyond_what_stands_there_is_said():
    made = timed(outside(), SPEEDS, Typed(radial_mm=9.0))
    assert cautions(outside(), made, None, 9.0, SPEEDS, SAY) == ["Only 4 mm wide is there to cut."]


def test_rings_of_a_typed_width_bore_a_wide_hole_quicker_the_wider_they_are():
    hole = an_operation(OperationKind.BORE, depth_mm=10.0, width_mm=60.0, axial_mm=1.0, radial_mm=6.0)
    narrow, wide = (timed(hole, SPEEDS, Typed(radial_mm=radial)).minutes for radial in (1.0, 8.0))
    assert wide < narrow


@given(st.sampled_from([pocketed(), outside(), faced(), walled(), floored()]))
def test_typing_what_is_proposed_changes_nothing(operation):
    plain = timed(operation, SPEEDS)
    typed = timed(operation, SPEEDS, Typed(axial_mm=operation.axial_mm, radial_mm=operation.radial_mm))
    assert (typed.passes, typed.minutes) == (plain.passes, pytest.approx(plain.minutes))
