"""When a drill pecks, against three sources that disagree (../shared/reference/peck-rules.csv, S13 to S15)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.cutting.pecking import PeckStyle, pecking
from shopflow.core.types import Machine, Material, Tool, ToolMaterial, ToolShape

ALUMINIUM = Material("6061", "aluminium", 2700.0)
STEEL = Material("1018", "low carbon steel", 7870.0)
STAINLESS = Material("303", "stainless steel", 8000.0)
HSS = Tool(1, "drill", ToolShape.DRILL, 6.0, ToolMaterial.HSS)
CARBIDE = Tool(1, "drill", ToolShape.DRILL, 6.0, ToolMaterial.CARBIDE)
THROUGH = Tool(1, "drill", ToolShape.DRILL, 6.0, ToolMaterial.CARBIDE, through_coolant=True)
WITH = Machine("m", (1.0,) * 3, (1.0,) * 3, (1.0,) * 3, 1.0, 1.0, 1.0, 1.0, through_coolant=True)
WITHOUT = Machine("m", (1.0,) * 3, (1.0,) * 3, (1.0,) * 3, 1.0, 1.0, 1.0, 1.0)
materials = st.sampled_from([ALUMINIUM, STEEL, STAINLESS, None])
drills = st.sampled_from([HSS, CARBIDE])


@given(drills, materials, st.floats(0.1, 2.0))
def test_nobody_pecks_within_two_diameters(drill, material, diameters):
    """S14: the first two diameters may be drilled before pecking starts."""
    assert pecking(drill, material, diameters * 6.0).style is PeckStyle.PLUNGE


@given(drills, materials, st.floats(5.01, 12.0))
def test_past_five_diameters_every_drill_without_coolant_through_it_comes_up(drill, material, diameters):
    """S13: simple cycle down to 5 diameters, full retracts past that."""
    assert pecking(drill, material, diameters * 6.0).style is PeckStyle.CLEAR


@pytest.mark.parametrize(
    ("material", "diameters", "style"),
    [(ALUMINIUM, 3.1, PeckStyle.CLEAR), (STEEL, 3.1, PeckStyle.PLUNGE), (STEEL, 4.1, PeckStyle.CLEAR)],
)
def test_high_speed_steel_pecks_past_three_diameters_or_four(material, diameters, style):
    """S15 from 3, S13 from 5; which within is common practice, no source."""
    assert pecking(HSS, material, diameters * 6.0).style is style


def test_carbide_breaks_its_chips_before_it_has_to_come_up():
    assert pecking(CARBIDE, STEEL, 4.0 * 6.0).style is PeckStyle.BREAK


def test_coolant_through_drill_and_machine_needs_no_pecks():
    assert pecking(THROUGH, STEEL, 7.0 * 6.0, WITH).style is PeckStyle.PLUNGE


def test_a_machine_without_coolant_through_its_spindle_pecks_with_the_same_drill():
    assert pecking(THROUGH, STEEL, 7.0 * 6.0, WITHOUT).style is PeckStyle.CLEAR


def test_stainless_gets_fewer_and_larger_pecks():
    """Common practice, no source: a drill that rubs hardens what it must cut next."""
    hard, plain = pecking(HSS, STAINLESS, 42.0), pecking(HSS, STEEL, 42.0)
    assert hard.next_mm > plain.next_mm and hard.count < plain.count


@given(drills, materials, st.floats(1.0, 100.0))
def test_the_pecks_reach_the_depth_and_no_more_than_one_goes_past_it(drill, material, depth):
    peck = pecking(drill, material, depth)
    if peck.style is not PeckStyle.PLUNGE:
        reached = peck.first_mm + (peck.count - 1) * peck.next_mm
        assert depth - 1e-6 <= reached < depth + peck.next_mm + 1e-6


def test_a_shop_that_pecks_high_speed_steel_earlier_is_followed():
    assert pecking(HSS, STEEL, 3.5 * 6.0, hss_most=3.0).style is PeckStyle.CLEAR
    assert pecking(CARBIDE, STEEL, 2.5 * 6.0, hss_most=2.0).style is PeckStyle.PLUNGE
