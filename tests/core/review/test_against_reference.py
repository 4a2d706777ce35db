"""Rules of the review against tables and worked examples of ../shared/reference."""

import csv
from pathlib import Path

import pytest

from shopflow.core import nc, review
from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.review import HouseRules
from shopflow.core.review.simulation import Bench, Place
from shopflow.core.review.tapping_rules import point_mm
from shopflow.core.types import Material, Placement, Tool, ToolMaterial, ToolShape

REFERENCE = Path(__file__).resolve().parents[4] / "shared" / "reference"
needs_reference = pytest.mark.skipif(
    not REFERENCE.exists(), reason="the folder ../shared/reference with values to check against is not here"
)
INCH = 25.4
STEEL = Material("steel 1018", "low carbon steel", 7870.0, 0.0455)
COARSE = Path(__file__).resolve().parents[4] / "shared" / "reference" / "threads-metric-coarse.csv"


@needs_reference
def test_the_house_rules_for_plunges_are_those_of_the_sources():
    """peck-rules.csv: a web calculator (S15) goes straight down to 3 × D, an open textbook (S13) to 5 × D."""
    with (REFERENCE / "peck-rules.csv").open() as table:
        next(table)
        rules = {row["rule"]: float(row["depth_over_diameter_to"]) for row in csv.DictReader(table)}
    house = HouseRules()
    assert float(house.value("hss_plunge_decide")) == rules["straight pass"]
    assert float(house.value("hss_plunge_most")) == rules["single pass limit with standard drill"]


@pytest.mark.parametrize(("diameter_in", "length_in", "places"), [(0.875, 0.2629, 4), (0.104, 0.0312, 3)])
def test_the_point_of_a_drill_is_as_long_as_published(diameter_in, length_in, places):
    """HT-01 of worked-examples.md, 118°: 0.2629 in of 7/8 in, 0.031 in of a number 37."""
    drill = Tool(1, "", ToolShape.DRILL, diameter_in * INCH, point_angle_deg=118.0)
    assert point_mm(drill) / INCH == pytest.approx(length_in, abs=0.6 * 10**-places)


def reviewed(depth_mm, diameter_mm, stock_mm, cycle="G81", drill=ToolMaterial.HSS):
    tool = Tool(1, "drill", ToolShape.DRILL, diameter_mm, drill, point_angle_deg=118.0, flute_length_mm=80.0)
    text = (
        "G17 G21 G90 G94 G54\nT1 M6\nS500 M3\nG43 H1 Z50\nG0 X0 Y0 Z10\n"
        f"G98 {cycle} X0 Y0 Z-{depth_mm:.3f} R5 F60\nG80\nG0 Z50\nM5\nM30\n"
    )
    program, half = nc.read(text.encode()), diameter_mm * 2.0
    seconds = cycle_time(program.motions).row_s
    bench = Bench(program, {1: tool}, TYPICAL_MACHINE, seconds, material=STEEL, memory=300_000)
    box = ((-half, -half, -stock_mm), (half, half, 0.0))
    (done,) = bench.setups([Place(1, 1, Placement(), box, box)], None, None)
    return {
        one.code: one
        for one in review.run(
            program, machine=TYPICAL_MACHINE, tools={1: tool}, cut=done.cut, material=STEEL, rules=review.CUT_RULES
        )
    }


def test_a_hole_drilled_through_as_a_calculator_says_is_not_too_far_below():
    """HT-03: a plate of 1 in, a drill of 1/2 in, 0.05 in of breakthrough: 1.2002 in."""
    assert "drills-far-below" not in reviewed(1.2002 * INCH, 0.5 * INCH, INCH)
    assert "drills-far-below" in reviewed(1.2002 * INCH + 5.0, 0.5 * INCH, INCH)


@pytest.mark.parametrize(("times", "weight"), [(2.9, None), (3.3, "decide"), (4.8, "decide"), (5.3, "must-fix")])
def test_depth_counts_in_material_and_not_from_where_the_feed_begins(times, weight):
    """R lies 5 mm, half a diameter, over the part: what is fed through air is not drilled. Limits: peck-rules.csv."""
    found = reviewed(times * 10.0, 10.0, 80.0).get("plunge-too-deep")
    assert (found.weight.value if found else None) == weight


def test_carbide_is_not_held_to_the_limits_of_high_speed_steel():
    found = reviewed(48.0, 10.0, 80.0, drill=ToolMaterial.CARBIDE)
    assert "plunge-too-deep" not in found and found["carbide-drill-dry"].measured == pytest.approx(4.8, abs=0.05)


@needs_reference
@pytest.mark.parametrize("thread", ["M3", "M8", "M12"])
def test_a_tap_at_its_standard_pitch_is_fed_right(thread):
    """threads-metric-coarse.csv, ISO 261: rigid tapping feeds pitch × rpm; half a percent is common practice."""
    with COARSE.open() as table:
        next(table)
        row = next(row for row in csv.DictReader(table) if row["thread"].split("x")[0] == thread)
    pitch = float(row["pitch_mm"])
    tap = Tool(1, "tap", ToolShape.TAP, float(row["major_mm"]), ToolMaterial.HSS, pitch_mm=pitch)

    def codes(feed):
        text = f"G17 G21 G90 G94 G54\nT1 M6\nS400 M3\nG43 H1 Z50\nG84 X0 Y0 Z-8 R5 F{feed:.4f}\nG80\nG0 Z50\nM5\nM30\n"
        found = review.run(nc.read(text.encode()), machine=TYPICAL_MACHINE, tools={1: tap})
        return {one.code: one.weight.value for one in found}.get("tap-feed")

    right = pitch * 400.0
    assert [codes(right * share) for share in (1.0, 1.004, 0.996)] == [None, None, None]
    assert [codes(right * share) for share in (0.97, 0.94, 1.01)] == ["decide", "must-fix", "must-fix"]
