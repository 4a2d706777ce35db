"""First minutes: they follow from volume, area and holes, and are held down by power."""

import pytest

from shopflow.core.planning.cutting_data import work_data
from shopflow.core.planning.minutes import Load, cutting_minutes, removal_mm3_min, saw_minutes
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.tooling import PickedTool
from shopflow.core.types import Material
from tests.core.planning.parts import MILL, a_hole, tool

ALUMINIUM = Material("6061", "aluminium", 2700.0)
WORK = work_data("aluminium")
END_MILL = PickedTool(tool(1, "flat end mill", 12.0), ("walls",))


def minutes(material=ALUMINIUM, picked=(END_MILL,), **load):
    given = {"volume_mm3": 0.0, "floor_mm2": 0.0, "wall_mm2": 0.0, "holes": ()}
    return cutting_minutes(Load(**{**given, **load}), picked, WORK, MILL, material)


def test_nothing_to_cut_takes_only_the_tool_changes():
    assert minutes() == pytest.approx(MILL.tool_change_s / 60)


def test_twice_the_volume_takes_twice_the_roughing():
    bare = minutes()
    assert minutes(volume_mm3=2e5) - bare == pytest.approx(2 * (minutes(volume_mm3=1e5) - bare))


def test_removal_is_width_times_depth_times_feed():
    """0.4 × 12 wide, 0.5 × 12 deep; 300 m/min on ⌀12 is 7958 rpm, 3 teeth of 0.096 mm: 2292 mm/min."""
    assert removal_mm3_min(END_MILL.tool, WORK, MILL, None) == pytest.approx(4.8 * 6.0 * 2291.8, rel=1e-3)


def test_removal_is_held_down_by_the_spindle_s_power():
    """0.7 × 7 kW at 0.5 kW for each cm³ a minute is 9.8 cm³/min."""
    hard = Material("hard", "aluminium", 2700.0, unit_power_kw_cm3_min=0.5)
    assert removal_mm3_min(END_MILL.tool, WORK, MILL, hard) == pytest.approx(9800.0)


def test_each_hole_takes_time_and_a_deep_one_more_for_its_pecks():
    drill = PickedTool(tool(2, "drill", 6.6, flute_length_mm=80.0), ("hole",))
    shallow, deep = (
        minutes(picked=[drill], holes=(a_hole(depth_mm=depth),)) - minutes(picked=[drill]) for depth in (10.0, 60.0)
    )
    assert deep - 0.05 == pytest.approx(1.5 * 6 * (shallow - 0.05))


def test_a_setup_without_any_mill_is_not_free():
    assert minutes(picked=[], volume_mm3=5e4) == pytest.approx(10.0)


def test_sawing_follows_from_the_section():
    assert saw_minutes(5000.0, PlanRules(saw_cm2_min=25.0, saw_each_min=1.0)) == pytest.approx(3.0)
