"""Minutes of operations: they follow from volume, path and holes, and from the speed and feed that is suggested."""

from dataclasses import replace

import pytest

from shopflow.core.planning import Held, Jaws, load_minutes, setting_up, total
from shopflow.core.planning.minutes import changing_minutes, deburr_minutes, saw_minutes, timed
from shopflow.core.planning.operations import Operation, OperationKind, Speeds
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.setting_up import setup_minutes
from shopflow.core.types import Machine, Material
from tests.core.planning.parts import MILL, hss, tool

ALUMINIUM = Material("6061", "aluminium", 2700.0)
QUICK = Machine("quick", (500.0,) * 3, (1e9,) * 3, (1e9,) * 3, 20000.0, 1.0, 20000.0, 50.0, tool_change_s=6.0)
"""Its rapids take no time, so that what is left is cutting."""
END_MILL = tool(1, "flat end mill", 12.0)


def an_operation(kind, of=END_MILL, **changes):
    return Operation(kind, str(kind), str(kind), of, **changes)


def done(operation, machine=QUICK, material=ALUMINIUM):
    return timed(operation, Speeds(material, machine))


def roughed(volume):
    return an_operation(OperationKind.ROUGH, volume_mm3=volume, depth_mm=6.0, axial_mm=6.0, radial_mm=4.8)


def test_twice_the_volume_takes_twice_the_roughing():
    once, twice, nothing = (done(roughed(volume)).minutes for volume in (1e5, 2e5, 1e-9))
    assert twice - nothing == pytest.approx(2 * (once - nothing))


def test_roughing_takes_at_least_volume_over_width_depth_and_feed():
    made = done(roughed(1e5))
    least = 1e5 / (6.0 * 4.8 * made.speed.feed_mm_min)
    assert least < made.minutes < 1.5 * least


def test_roughing_that_would_stall_the_spindle_takes_longer():
    hard = replace(ALUMINIUM, unit_power_kw_cm3_min=0.5)
    assert done(roughed(1e5), MILL, hard).minutes > 2 * done(roughed(1e5), MILL).minutes


def test_a_path_takes_its_length_over_its_feed():
    """Worked example CU-20 (rule of a university's worksheet): L / F, with a tenth for entering and leaving."""
    made = done(an_operation(OperationKind.WALLS, length_mm=1000.0, axial_mm=10.0, radial_mm=0.3))
    assert made.minutes == pytest.approx(1.1 * 1000.0 / made.speed.feed_mm_min, rel=1e-3)


def drilled(depth, of):
    return done(an_operation(OperationKind.DRILL, of, depth_mm=depth, width_mm=of.diameter_mm), MILL)


def test_a_hole_that_is_pecked_takes_longer_than_one_that_is_not():
    pecked, plunged = hss(2, "drill", 6.0), tool(3, "drill", 6.0, through_coolant=True)
    through = replace(MILL, through_coolant=True)
    slow = done(an_operation(OperationKind.DRILL, pecked, depth_mm=40.0), through)
    fast = done(an_operation(OperationKind.DRILL, plunged, depth_mm=40.0), through)
    feeding = [42.0 / one.speed.feed_mm_min for one in (slow, fast)]
    assert slow.minutes - feeding[0] > 2 * (fast.minutes - feeding[1])


def test_ten_holes_take_ten_times_as_long_as_one():
    one = done(an_operation(OperationKind.DRILL, hss(2, "drill", 6.0), depth_mm=12.0), MILL)
    ten = done(an_operation(OperationKind.DRILL, hss(2, "drill", 6.0), depth_mm=12.0, count=10), MILL)
    assert ten.minutes == pytest.approx(10 * one.minutes)


def test_tapping_takes_the_depth_both_ways_at_pitch_times_speed():
    """Worked example CU-15: the feed is P n; 12 deep, with 3 pitches and 2 mm over it, down and up."""
    made = done(an_operation(OperationKind.TAP, hss(2, "tap", 6.0, pitch_mm=1.0), depth_mm=12.0))
    assert made.minutes == pytest.approx(2 * 17.0 / made.speed.rpm + 0.6 / 60, rel=1e-3)


def test_a_bore_is_never_quicker_than_once_round_its_wall():
    """Worked example CU-16: the centre of ⌀d in ⌀D goes at F (D − d) / D, so that round the wall takes π D / F."""
    made = done(an_operation(OperationKind.BORE, depth_mm=10.0, width_mm=30.0, axial_mm=2.0))
    assert made.minutes > 3.14 * 30.0 / made.speed.feed_mm_min


def test_without_a_machine_there_are_no_minutes_but_speeds():
    made = done(roughed(1e5), None)
    assert made.minutes is None and made.speed.rpm > 0


def test_what_has_no_tool_yet_takes_no_minutes():
    assert done(an_operation(OperationKind.DRILL, None)).minutes is None


def test_a_tool_that_stays_in_the_spindle_is_changed_once():
    once = changing_minutes([an_operation(OperationKind.ROUGH), an_operation(OperationKind.WALLS)], QUICK)
    assert once == changing_minutes([an_operation(OperationKind.ROUGH)], QUICK) > 6.0 / 60


def test_sawing_follows_from_the_section():
    assert saw_minutes(5000.0, PlanRules(saw_cm2_min=25.0, saw_each_min=1.0)) == pytest.approx(3.0)


def test_hands_take_as_long_as_the_edges_are():
    rules = PlanRules(deburr_mm_min=600.0, deburr_each_min=0.5)
    assert deburr_minutes(1200.0, rules) == pytest.approx(2.5)


def test_clamps_take_longer_to_set_up_than_a_vise():
    rules = PlanRules()
    assert setup_minutes(3, rules, is_vise=False) > setup_minutes(3, rules)


def test_soft_jaws_take_longer_than_a_vise_and_new_ones_longest():
    rules = PlanRules()
    vise, again, new = (
        total(setting_up(3, rules, **held))
        for held in ({}, {"held": Held.SOFT_JAWS}, {"held": Held.SOFT_JAWS, "jaws": Jaws.NEW})
    )
    assert vise < again < new


def test_the_parts_of_setting_up_name_what_is_done():
    parts = setting_up(2, PlanRules(), held=Held.SOFT_JAWS, jaws=Jaws.NEW)
    assert [part.what for part in parts] == [
        "vise set and indicated", "soft jaws mounted", "cut new jaws", "2 × tool set and measured",
    ]  # fmt: skip


def test_a_fixture_takes_the_place_of_the_vise():
    assert not any("vise" in part.what for part in setting_up(2, PlanRules(), held=Held.FIXTURE))


def test_a_piece_goes_into_a_fixture_quicker_than_under_clamps():
    rules = PlanRules()
    assert load_minutes(rules) < load_minutes(rules, held=Held.FIXTURE) < load_minutes(rules, held=Held.CLAMPS)
