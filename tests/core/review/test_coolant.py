"""What is said of coolant, and what is not: a shop's habit is never a fault that must be mended."""

from dataclasses import replace

import pytest

from shopflow.core import nc, review
from shopflow.core.cutting.rows import DataRow, Way, Ways
from shopflow.core.review import Weight
from shopflow.core.types import Material, ToolUse
from tests.core.nc.reading_help import CALCULATOR
from tests.core.review.test_rules import CRIB, HEAD, MACHINE, TAIL

IRON, MAGNESIUM = Material("GG25", "cast iron", 7200.0), Material("AZ91", "magnesium", 1810.0)
STEEL, ALUMINIUM = Material("1018", "low carbon steel", 7870.0), Material("6061", "aluminium", 2700.0)


BLOWS = replace(MACHINE, control=replace(CALCULATOR, coolant_codes=(("M88", 4), ("M89", 8))))


def found(body, material, *, own=(), machine=BLOWS, tool=1):
    text = (HEAD + body + TAIL).replace("T1 ", f"T{tool} ").replace("H1 ", f"H{tool} ")
    program = nc.read(text.encode(), control=machine.control)
    said = review.run(program, machine=machine, tools=CRIB, material=material, own_data=own)
    return [one for one in said if one.code in ("coolant-not-usual", "cuts-dry", "wet-magnesium")]


CUT = "G1 X100. F100.\nX0."


def test_flood_over_cast_iron_is_noted_with_what_is_usual():
    (one,) = found("M8\n" + CUT, IRON)
    assert (one.code, one.weight, one.lines) == ("coolant-not-usual", Weight.NOTE, (6,))
    assert "cuts with flood in GG25" in one.message and "usual: dry (M9), air (M89)" in one.message


def test_a_dry_steel_drill_in_steel_needs_a_decision():
    (one,) = found("G81 X0. Y0. Z-5. R2. F100.\nX20.", STEEL, tool=2)
    assert one.weight is Weight.DECIDE and "flood (M8), mist (M7)" in one.message


@pytest.mark.parametrize(("code", "material"), [("M9", IRON), ("M89", IRON), ("M8", STEEL), ("M7", ALUMINIUM)])
def test_what_is_usual_is_no_finding(code, material):
    assert found(f"{code}\n{CUT}", material) == []


def test_coolant_that_goes_off_on_the_way_is_noticed_where_it_goes_off():
    (one,) = found("M8\nG1 X100. F100.\nM9\nX0.", STEEL)
    assert one.lines == (8,)


def test_the_first_part_of_a_cut_may_be_dry():
    assert found("G1 X10. F100.\nM8\nX100.\nX0.", STEEL) == []


def test_water_over_magnesium_is_said_once():
    assert [one.code for one in found("M8\n" + CUT, MAGNESIUM)] == ["wet-magnesium"]


def test_a_tool_that_is_usually_dry_is_not_asked_about_beside_one_with_coolant():
    two = CUT + "\nG0 Z50.\nM5\nT2 M6\nG0 G43 H2 Z50. S1000 M3 M8\nG81 X0. Y0. Z-5. R2. F100."
    assert found(two, IRON) == []


def test_the_shop_s_own_coolant_is_what_a_program_is_held_to():
    dry = DataRow("cast iron", None, "", frozenset({ToolUse.ROUGH}), None, None, None, True, Ways((Way.FLOOD,), True))
    assert found("M8\n" + CUT, IRON, own=[dry]) == []
    assert [one.weight for one in found(CUT, IRON, own=[dry])] == [Weight.DECIDE]


def test_nothing_about_coolant_must_be_mended():
    materials = (IRON, MAGNESIUM, STEEL, ALUMINIUM)
    said = [one for code in ("M7", "M8", "M9", "M88", "M89") for one in
            (each for material in materials for each in found(f"{code}\n{CUT}", material))]  # fmt: skip
    assert said and Weight.MUST_FIX not in {one.weight for one in said}
