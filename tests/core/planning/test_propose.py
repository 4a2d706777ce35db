"""The proposal as a whole: blank, setups, steps, what is out of reach."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.core.planning import Given, PlanRules, bare_routing, propose
from shopflow.core.planning.blanks.blank import propose_blank
from shopflow.core.types import Material
from tests.core.planning.parts import CRIB, MILL, RIGHT, a_hole, a_pocket, a_reading


def plan(reading, **given):
    return propose(reading, Given(**{"crib": CRIB, "machines": [MILL], **given}))


def test_the_blank_is_the_box_with_stock_to_cut_and_to_hold():
    """60 × 40 × 12 with 2.5 on each side, 1.5 on top, 4 to grip and 1 over the jaws, up to the next whole mm."""
    assert plan(a_reading()).blank.size_mm == (65.0, 45.0, 19.0)


def test_sizes_already_whole_are_not_rounded_up_again():
    rules = PlanRules(side_allowance_mm=0.5, top_allowance_mm=1.0, grip_mm=2.0, over_jaws_mm=1.0)
    assert propose_blank((60.0, 40.0, 12.0), 1.0, "+Z", rules).size_mm == (61.0, 41.0, 16.0)


def test_the_stock_to_hold_lies_along_the_first_setup_s_axis():
    assert propose_blank((60.0, 40.0, 12.0), 1.0, "-X", PlanRules()).size_mm == (67.0, 45.0, 17.0)


def test_an_inch_shop_saws_to_sixteenths():
    size = plan(a_reading(), rules=PlanRules(unit="in", size_step_mm=25.4 / 16)).blank.size_mm
    assert all(length / 25.4 * 16 == pytest.approx(round(length / 25.4 * 16)) for length in size)


def test_the_yield_is_part_over_blank():
    made = plan(a_reading(holes=[]))
    assert made.blank.yield_share == pytest.approx(60 * 40 * 12 / (65 * 45 * 19))


def test_the_routing_runs_saw_mill_deburr_inspect_ship():
    kinds = [str(step.kind) for step in plan(a_reading()).steps]
    assert kinds == ["saw", "mill", "mill", "deburr", "inspect", "ship"]


def test_every_setup_has_its_own_work_offset_zero_and_pick_up():
    setups = plan(a_reading()).setups
    assert [setup.holding.work_offset for setup in setups] == [1, 2]
    assert all(setup.holding.zero_mm and setup.holding.along_x and setup.holding.pick_up_by for setup in setups)


def test_the_zero_is_in_the_middle_of_what_is_up():
    """The part of 60 × 40 × 12: whatever is up, its zero lies on that face of its box."""
    reading = a_reading()
    (low, _, bottom), (high, _, top) = reading.box_min_mm, reading.box_max_mm
    for setup in plan(reading).setups:
        x, _, z = setup.holding.zero_mm
        assert (x, z) == ((low + high) / 2, top if setup.up == "+Z" else bottom)


def test_the_long_side_lies_along_x_and_a_turned_part_keeps_it():
    assert [setup.holding.along_x for setup in plan(a_reading()).setups] == ["+X", "+X"]


def test_turned_over_the_stock_is_what_held_it():
    """60 × 40 × 12 from a blank of 19 with 1.5 on top: 5.5 is left below, and the sides are finished."""
    first, second = plan(a_reading()).setups
    assert (first.stock.size_mm, first.stock.over_mm) == ((65.0, 45.0, 19.0), 1.5)
    assert (second.stock.size_mm, second.stock.over_mm) == ((60.0, 40.0, 17.5), 5.5)


def test_the_first_setup_holds_the_raw_sides_and_the_next_the_finished_ones():
    first, second = plan(a_reading()).setups
    assert "raw sides" in first.holding.workholding
    assert "finished sides" in second.holding.workholding


def test_the_jaws_close_across_the_shorter_side():
    assert "across Y" in plan(a_reading()).setups[0].holding.workholding


def test_a_part_wider_than_the_vise_is_clamped():
    holding = plan(a_reading(size=(300.0, 200.0, 20.0), holes=[])).setups[0].holding
    assert holding.grip_mm is None
    assert "clamped" in holding.workholding


def test_a_part_larger_than_every_machine_is_said():
    made = plan(a_reading(size=(900.0, 500.0, 20.0), holes=[]))
    assert made.setups[0].machine is None
    assert "larger than the travel" in made.notes[0]


def test_a_shop_without_machines_is_told_that_minutes_are_missing():
    assert "No machine" in plan(a_reading(), machines=[]).notes[0]


def test_the_first_machine_that_holds_the_blank_is_taken():
    small = replace(MILL, name="too small", travel_mm=(50.0, 30.0, 100.0))
    assert plan(a_reading(), machines=[small, MILL]).setups[0].machine is MILL


def test_a_thread_is_a_question_and_never_planned():
    made = plan(a_reading(holes=[a_hole(diameter_mm=5.0, thread_guess="M6")]))
    assert any("M6" in note for note in made.notes)
    assert not any("tap" in want.tool for want in made.wanted if "drill" not in want.tool)


def test_a_pocket_s_corner_decides_the_tool():
    """Corners of radius 4 take at most ⌀7.2: the ⌀6."""
    made = plan(a_reading(holes=[], pockets=(a_pocket(),)))
    first = made.setups[0]
    assert [entry.tool.number for entry in first.tools if "corner" in entry.purpose] == [3]


def test_more_characteristics_take_longer_to_inspect():
    few, many = (
        next(step.minutes_each for step in plan(a_reading(), measurements=n).steps if str(step.kind) == "inspect")
        for n in (2, 12)
    )
    assert many - few == pytest.approx(5.0)


def test_harder_material_takes_longer():
    def milling(group):
        steps = plan(a_reading(), material=Material("m", group, 7800.0)).steps
        return sum(step.minutes_each for step in steps if str(step.kind) == "mill")

    assert milling("titanium") > milling("low carbon steel") > milling("aluminium")


def test_a_routing_without_a_model_leaves_everything_open():
    made = bare_routing()
    assert made.blank is None
    assert all(step.minutes_each is None for step in made.steps)


sizes = st.floats(min_value=5.0, max_value=400.0)


@settings(max_examples=60)
@given(sizes, sizes, sizes, st.integers(min_value=0, max_value=5))
def test_a_blank_always_covers_its_part_and_minutes_are_never_negative(x, y, z, holes):
    cross = [a_hole(axis=RIGHT, reach=(RIGHT,), through=False, bottom="flat")] * holes
    made = plan(a_reading(size=(x, y, z), holes=cross))
    assert all(raw >= part for raw, part in zip(made.blank.size_mm, (x, y, z), strict=True))
    assert all(step.minutes_each is None or step.minutes_each >= 0 for step in made.steps)


def test_what_a_person_typed_to_stand_over_the_part_is_faced_off():
    made = plan(a_reading(), over_mm={"-Z": 7.0})
    assert made.setups[1].operations[0].depth_mm == 7.0


def test_a_setup_whose_tools_a_person_picked_is_planned_with_those():
    made = plan(a_reading(), settled={"+Z": [CRIB[0]]})
    assert {entry.tool.number for entry in made.setups[0].tools} == {1}


def test_a_plan_for_two_hundred_holes_groups_them():
    holes = [a_hole(float(x), float(y)) for x in range(20) for y in range(10)]
    made = plan(a_reading(holes=holes))
    assert any("200 × hole" in entry.purpose for entry in made.setups[0].tools)
