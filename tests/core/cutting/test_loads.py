"""Engagement, chip, power and bending against worked examples (../shared/reference/worked-examples.md)."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.cutting import deflection, engagement, power
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.types import Material, Tool, ToolMaterial, ToolShape

REFERENCE = Path(__file__).resolve().parents[3].parent / "shared" / "reference"
INCH = 25.4
FLAT = Tool(1, "10 mm", ToolShape.FLAT, 10.0, flute_length_mm=20.0, stickout_mm=40.0, shank_diameter_mm=10.0)


def test_shoulder_milling_has_the_rate_of_the_example():
    """Worked example CU-05 (a tool maker's catalogue, 2011): 0.917 in³/min (published 0.91)."""
    rate = engagement.removal_rate_cm3_min(0.125 * INCH, 0.100 * INCH, 73.3 * INCH)
    assert float(rate) / 16.387064 == pytest.approx(0.917, abs=0.001)


def test_feed_a_tooth_follows_from_feed_and_speed():
    """Worked example CU-08: 32 teeth at 88 rpm and 11.26 in/min are 0.004 in a tooth."""
    assert float(engagement.tooth_feed(11.264, 88.0, 32)) == pytest.approx(0.004)


def test_a_standing_spindle_feeds_without_end():
    assert np.isinf(engagement.tooth_feed(100.0, 0.0, 2))


def test_radial_thinning_has_the_factor_and_the_angle_of_the_example():
    """Worked example CU-10 (two web calculators): factor 1.667, engagement 36.9°."""
    assert float(engagement.thinning_factor(0.050, 0.500)) == pytest.approx(1.6667, abs=1e-4)
    assert float(engagement.engagement_angle_deg(0.050, 0.500)) == pytest.approx(36.9, abs=0.05)
    assert 0.003 * float(engagement.thinning_factor(0.050, 0.500)) == pytest.approx(0.0050, abs=1e-5)


def test_half_a_cutter_and_more_does_not_thin():
    assert engagement.thinning_factor([5.0, 7.0, 10.0], 10.0).tolist() == [1.0, 1.0, 1.0]


def test_face_milling_needs_the_power_of_the_example():
    """Worked example CU-06 (an insert maker's page): 2 x 80 mm at 280 mm/min, 1800 N/mm², 80 %: 1.68 kW."""
    rate = engagement.removal_rate_cm3_min(2.0, 80.0, 280.0)
    unit = float(power.unit_power(1800.0))
    assert float(power.spindle_power_kw(rate, unit, 0.80)) == pytest.approx(1.68)


def test_one_horsepower_a_cubic_inch_a_minute_is_the_specific_force_of_the_example():
    """Worked example CU-13: 2730.3 N/mm²."""
    kw_cm3_min = 0.745700 / 16.387064
    assert float(power.unit_power(2730.3)) == pytest.approx(kw_cm3_min, rel=1e-4)


def test_unit_powers_of_the_table_are_those_computed():
    """specific-cutting-force-milling.csv: unit power at 0.2 mm in hp per in³/min, from the same force."""
    if not REFERENCE.is_dir():
        pytest.skip("the folder ../shared/reference with values to check against is not here")
    with (REFERENCE / "specific-cutting-force-milling.csv").open() as file:
        next(file)
        rows = list(csv.DictReader(file))
    assert len(rows) == 14
    for row in rows:
        kw = float(power.unit_power(float(row["kc_at_fz_0.2mm_N_per_mm2"])))
        hp_in3 = kw * 16.387064 / 0.745700
        assert hp_in3 == pytest.approx(float(row["unit_power_at_0.2mm_hp_per_in3_per_min"]), abs=0.006)


def test_power_is_not_known_without_the_material_s_unit_power():
    assert np.isnan(power.removal_power_kw(10.0, Material("unknown", "steel", 7800.0)))
    assert float(power.removal_power_kw(10.0, Material("known", "steel", 7800.0, 0.04))) == pytest.approx(0.4)


CURVED = replace(TYPICAL_MACHINE, power_kw=8.0, power_curve=((2000.0, 8.0), (8000.0, 8.0), (12000.0, 5.0)))


def test_below_the_speed_of_full_power_a_spindle_has_less():
    share = power.power_share([4.0, 4.0, 0.0], CURVED, [3000.0, 1000.0, 0.0])
    assert share.tolist() == [0.5, 1.0, 0.0]


def test_a_spindle_has_what_its_curve_says_between_two_speeds_and_beyond_the_last():
    assert power.available_kw(CURVED, [1000.0, 10000.0, 15000.0]).tolist() == [4.0, 6.5, 5.0]
    assert power.available_kw(TYPICAL_MACHINE, [10.0]).tolist() == [TYPICAL_MACHINE.power_kw]


@pytest.mark.parametrize("text", ["1500", "1500 0", "3000 7, 1500 7", "a b", "nan 7"])
def test_what_is_no_curve_of_power_is_refused(text):
    with pytest.raises(ValueError):  # noqa: PT011 (float's own words are as good as ours)
        power.read_curve(text)


def test_a_ball_is_thinner_where_it_cuts_shallow():
    ball = Tool(1, "ball", ToolShape.BALL, 10.0)
    used = engagement.diameter_in_cut(ball, [1.0, 5.0, 8.0])
    assert used.tolist() == pytest.approx([6.0, 10.0, 10.0])


def test_a_point_is_as_wide_as_its_angle_makes_it():
    chamfer = Tool(1, "chamfer", ToolShape.CHAMFER, 10.0, point_angle_deg=90.0, tip_diameter_mm=1.0)
    assert engagement.diameter_in_cut(chamfer, [0.0, 2.0, 9.0]).tolist() == pytest.approx([1.0, 5.0, 10.0])


def test_force_times_speed_is_power():
    force = float(power.tangential_force_n(1.5, 3000.0, 20.0))
    assert force * math.pi * 0.020 * 50.0 == pytest.approx(1500.0)


def test_a_plain_bar_bends_as_the_closed_form_says():
    """F l³ / 3 E I of a bar held at one end (any handbook of strength of materials)."""
    bar = replace(FLAT, flute_length_mm=1e-9)
    second_moment = math.pi * 10.0**4 / 64.0
    assert deflection.bending_mm_per_n(bar) == pytest.approx(40.0**3 / 3.0 / 600_000.0 / second_moment)


@given(st.floats(0.0, 1.0))
def test_two_bars_of_the_same_width_bend_as_one(share):
    core = replace(FLAT, shank_diameter_mm=8.0, flute_length_mm=max(40.0 * share, 1e-9))
    whole = replace(FLAT, shank_diameter_mm=8.0, flute_length_mm=40.0)
    assert deflection.bending_mm_per_n(core) == pytest.approx(deflection.bending_mm_per_n(whole), rel=1e-6)


def test_steel_bends_more_than_carbide_and_twice_the_length_eight_times_as_much():
    steel = replace(FLAT, material=ToolMaterial.HSS)
    assert deflection.bending_mm_per_n(steel) / deflection.bending_mm_per_n(FLAT) == pytest.approx(600 / 210)
    twice = replace(FLAT, stickout_mm=80.0, flute_length_mm=40.0)
    assert deflection.bending_mm_per_n(twice) / deflection.bending_mm_per_n(FLAT) == pytest.approx(8.0)


def test_without_a_stickout_no_bending_is_claimed():
    assert float(deflection.deflection_mm(replace(FLAT, stickout_mm=0.0), 500.0)) == 0.0
