"""Suggested speeds and feeds lie inside what is published; limits, thinning and power hold them.

Speed tables disagree by two to five times, so a suggestion must lie inside the envelope of all sources for a material
and a kind of tool and need not equal one. Sources S01 to S15 are those of ../shared/reference/README.md.
"""

import csv
import math
from dataclasses import replace
from pathlib import Path

import pytest

from shopflow.core.cutting.data import Cut, Per, suggest
from shopflow.core.cutting.rows import BadRow, default_rows, read_csv
from shopflow.core.types import Machine, Material, Tool, ToolCoating, ToolMaterial, ToolShape, ToolUse

REFERENCE = Path(__file__).resolve().parents[4] / "shared" / "reference"
needs_reference = pytest.mark.skipif(
    not REFERENCE.exists(), reason="the folder of reference tables is not beside the repository"
)
INCH = 25.4
HSS, CARBIDE = ToolMaterial.HSS, ToolMaterial.CARBIDE
HEADER = (
    "group,tool_material,coating,uses,diameter,speed_low,speed_usual,speed_high,feed_low,feed_usual,feed_high,source\n"
)
FAST = Machine("fast", (500.0,) * 3, (20000.0,) * 3, (2000.0,) * 3, 50000.0, 1.0, 100000.0, 100.0)

GROUP_OF = {
    "low carbon steel": "low carbon steel", "mild steel": "low carbon steel", "mild steel 1018": "low carbon steel",
    "non-alloy steel <0.25%C annealed": "low carbon steel", "low alloy steel 10XX/11XX/13XX": "low carbon steel",
    "medium carbon steel": "medium carbon steel", "stainless steel": "stainless steel",
    "stainless 304/316": "stainless steel", "stainless 304/316 <=200HB": "stainless steel",
    "brass": "brass and bronze", "bronze": "brass and bronze", "brass and bronze": "brass and bronze",
    "brass free cutting": "brass and bronze", "brass yellow/high-lead/red": "brass and bronze",
    "aluminium": "aluminium", "aluminium 6061": "aluminium", "aluminium Si<13%": "aluminium",
    "cast iron": "cast iron", "magnesium": "magnesium", "alloy steel hard": "alloy steel",
    "alloy steel 4140 annealed": "alloy steel", "alloy steel (42CrMo4) <=300HB": "alloy steel",
    "low alloy steel annealed 200HB": "alloy steel", "tool steel": "tool steel", "tool steel D2/H13": "tool steel",
    "tool steel P20/H13 30-45HRC": "tool steel", "high alloy and tool steel annealed 200HB": "tool steel",
    "tool steel A2/D2 annealed": "tool steel", "titanium": "titanium", "titanium Ti-6Al-4V": "titanium",
    "titanium alpha+beta": "titanium", "plastics nylon/HDPE": "plastic", "acetal": "plastic",
    "acrylic/phenolic/polysulfone": "plastic",
}  # fmt: skip
"""What the reference table calls a material, and the group that it is here."""
KINDS = {
    "hss drill": (HSS, ToolShape.DRILL, ToolUse.DRILL, ToolCoating.NOT_SAID),
    "hss mill": (HSS, ToolShape.FLAT, ToolUse.ROUGH, ToolCoating.NOT_SAID),
    "carbide mill": (CARBIDE, ToolShape.FLAT, ToolUse.ROUGH, ToolCoating.NOT_SAID),
    "bare carbide mill": (CARBIDE, ToolShape.FLAT, ToolUse.WALL, ToolCoating.UNCOATED),
    "coated carbide mill": (CARBIDE, ToolShape.FLAT, ToolUse.WALL, ToolCoating.ALTIN),
}


def of(group):
    return Material(group, group, 7800.0)


def a_tool(shape, diameter, material=CARBIDE, **changes):
    return Tool(1, "tool", shape, diameter, material, **changes)


def kind_of(row):
    """What of KINDS a row of the reference table speaks about; turning is none of them."""
    if "lathe" in row["operation"] or "turn" in row["operation"]:
        return []
    if row["tool"] == "HSS":
        return ["hss drill"] if row["operation"] == "drill" else ["hss mill"]
    side = "coated" if row["tool"] == "coated carbide" else "bare"
    return ["carbide mill", f"{side} carbide mill"]


def envelopes():
    """(kind, group) to the lowest and highest surface speed printed anywhere, m/min."""
    if not REFERENCE.exists():
        return {}
    found = {}
    with (REFERENCE / "cutting-speeds.csv").open() as handle:
        next(handle)
        for row in csv.DictReader(handle):
            for kind in kind_of(row):
                low, high = found.get((kind, GROUP_OF[row["material"]]), (math.inf, 0.0))
                ends = (min(low, float(row["vc_min_m_per_min"])), max(high, float(row["vc_max_m_per_min"])))
                found[kind, GROUP_OF[row["material"]]] = ends
    return found


@needs_reference
@pytest.mark.parametrize("found", envelopes().items(), ids=lambda found: " ".join(found[0]))
def test_each_suggested_speed_lies_inside_the_envelope_of_all_sources(found):
    (kind, group), (low, high) = found
    material, shape, use, coating = KINDS[kind]
    made = suggest(of(group), a_tool(shape, 10.0, material, coating=coating), use)
    assert low - 0.1 <= made.speed_m_min.usual <= high + 0.1


@needs_reference
@pytest.mark.parametrize("found", envelopes().items(), ids=lambda found: " ".join(found[0]))
def test_each_window_of_speed_touches_every_published_range(found):
    (kind, group), (low, high) = found
    material, shape, use, coating = KINDS[kind]
    made = suggest(of(group), a_tool(shape, 10.0, material, coating=coating), use)
    assert made.speed_m_min.low <= high and made.speed_m_min.high >= low


CHIPS = {
    "aluminium 6061/7075/2024": "aluminium", "brass yellow/high-lead/red": "brass and bronze",
    "polycarbonate/acrylic": "plastic", "low alloy steel 10XX": "low carbon steel",
    "stainless 304/316": "stainless steel", "titanium Ti-6Al-4V": "titanium", "gray cast iron": "cast iron",
}  # fmt: skip


@needs_reference
def test_every_published_feed_a_tooth_lies_inside_the_window_for_its_diameter():
    """S05, S06: 42 feeds a tooth of carbide end mills by material and diameter."""
    outside = []
    with (REFERENCE / "chip-loads.csv").open() as handle:
        next(handle)
        for row in csv.DictReader(handle):
            top, _, bottom = row["diameter_in"].partition("/")
            mill = a_tool(ToolShape.FLAT, INCH * float(top) / float(bottom or 1))
            made = suggest(of(CHIPS[row["material"]]), mill, ToolUse.ROUGH)
            if not made.feed_mm.low - 1e-4 <= float(row["feed_per_tooth_mm"]) <= made.feed_mm.high + 1e-4:
                outside.append((row, made.feed_mm))
    assert outside == []


@pytest.mark.parametrize(
    ("diameter", "lowest", "highest"),
    [(3.0, 0.001, 0.002), (6.0, 0.002, 0.004), (12.0, 0.004, 0.007), (25.0, 0.007, 0.015), (30.0, 0.015, 0.025)],
)
@pytest.mark.parametrize("group", ["aluminium", "low carbon steel"])
def test_drill_feed_a_turn_lies_inside_the_training_manual_s_range(group, diameter, lowest, highest):
    """S01: feed of a high-speed-steel twist drill in in/rev by diameter; harder materials may be below."""
    made = suggest(of(group), a_tool(ToolShape.DRILL, diameter, HSS), ToolUse.DRILL)
    assert lowest <= made.feed_mm.usual / INCH <= highest


@pytest.mark.parametrize(
    ("speed_ft_min", "diameter_in", "rpm"), [(80, 0.5, 611.2), (300, 0.25, 4583.7), (450, 0.375, 4584)]
)
def test_rpm_follows_from_surface_speed_as_in_the_examples(speed_ft_min, diameter_in, rpm):
    """Worked examples CU-01, CU-02 (S03) and CU-05 (a tool maker's catalogue, 2011)."""
    own = read_csv(HEADER + f"any metal,,,drill,,,{speed_ft_min * 0.3048},,,0.1,,the shop\n", is_own=True)
    made = suggest(of("any metal"), a_tool(ToolShape.DRILL, diameter_in * INCH), ToolUse.DRILL, own=own)
    assert made.rpm == pytest.approx(rpm, rel=1e-3)


def test_feed_follows_from_tooth_and_speed_as_in_the_example():
    """Worked example CU-03 (a tool seller's guide): 25 m/min, ⌀12, 2 teeth, 0.065 mm: 663 rpm, 86.2 mm/min."""
    own = read_csv(HEADER + "any metal,,,rough,,,25,,,0.065,,the shop\n", is_own=True)
    made = suggest(of("any metal"), a_tool(ToolShape.FLAT, 12.0, flutes=2), ToolUse.ROUGH, own=own)
    assert (made.rpm, made.feed_mm_min) == (pytest.approx(663.1, abs=0.1), pytest.approx(86.2, abs=0.1))


@pytest.mark.parametrize(
    ("major", "pitch", "rpm", "feed"), [(8.0, 1.25, 640, 800), (6.0, 1.0, 500, 500), (6.35, 1.27, 700, 889)]
)
def test_a_tap_feeds_its_pitch_each_turn_as_in_the_examples(major, pitch, rpm, feed):
    """Worked examples CU-14 (a course book: 1/4-20 at 700 rpm, 35 in/min) and CU-15."""
    tap = a_tool(ToolShape.TAP, major, HSS, pitch_mm=pitch, max_rpm=float(rpm))
    own = read_csv(HEADER + "any metal,,,tap,,,100,,,,,the shop\n", is_own=True)
    made = suggest(of("any metal"), tap, ToolUse.TAP, own=own)
    assert (made.per, made.rpm, made.feed_mm_min) == (Per.PITCH, rpm, pytest.approx(feed))


def test_a_narrow_cut_is_fed_faster_as_in_the_example():
    """Worked example CU-10 (two web calculators): ⌀0.5 in, 0.05 in wide: 1.667 times the feed."""
    mill = a_tool(ToolShape.FLAT, 12.7)
    narrow = suggest(of("steel"), mill, ToolUse.ROUGH, cut=Cut(axial_mm=5, radial_mm=1.27))
    assert narrow.thinning == pytest.approx(1.6667, abs=1e-3)
    assert narrow.feed_mm_min == pytest.approx(1.6667 * suggest(of("steel"), mill, ToolUse.ROUGH).feed_mm_min, rel=1e-3)


def test_a_finishing_pass_keeps_its_feed_but_a_raised_one_is_inside_the_window():
    mill = a_tool(ToolShape.FLAT, 12.7)
    plain = suggest(of("steel"), mill, ToolUse.WALL)
    narrow = suggest(of("steel"), mill, ToolUse.WALL, cut=Cut(axial_mm=5, radial_mm=0.2))
    assert narrow.feed_mm_min == plain.feed_mm_min
    assert narrow.feed_window.high > 2 * plain.feed_window.high


def test_a_ball_that_hardly_touches_turns_faster():
    """D in the cut is 2√(ap(D − ap)): 2√(0.2 × 5.8) = 2.154 for a ⌀6 ball 0.2 deep."""
    made = suggest(of("steel"), a_tool(ToolShape.BALL, 6.0), ToolUse.SURFACE, cut=Cut(axial_mm=0.2, radial_mm=0.3))
    assert made.in_cut_mm == pytest.approx(2.154, abs=1e-3)
    assert made.rpm == pytest.approx(made.speed_m_min.usual * 1000 / math.pi / 2.154, rel=1e-3)


def test_a_tool_at_the_machine_s_highest_speed_is_not_too_slow():
    slow = replace(FAST, max_rpm=3000.0)
    made = suggest(of("aluminium"), a_tool(ToolShape.FLAT, 3.0), ToolUse.ROUGH, slow)
    assert made.rpm == 3000.0
    assert made.rpm_window.holds(3000.0)
    assert made.limits == ("the machine's highest rpm, 3000",)


def test_the_tool_s_own_limit_counts_when_it_is_lower():
    made = suggest(of("aluminium"), a_tool(ToolShape.FLAT, 3.0, max_rpm=2000.0), ToolUse.ROUGH, FAST)
    assert (made.rpm, made.limits) == (2000.0, ("the tool's highest rpm, 2000",))


def test_a_machine_that_cannot_turn_as_slowly_is_not_too_fast():
    made = suggest(of("titanium"), a_tool(ToolShape.DRILL, 40.0, HSS), ToolUse.DRILL, replace(FAST, min_rpm=500.0))
    assert made.rpm == 500.0 and made.rpm_window.holds(500.0)


def test_feed_stays_within_the_machine_s_highest():
    made = suggest(of("aluminium"), a_tool(ToolShape.FLAT, 12.0), ToolUse.ROUGH, replace(FAST, max_feed_mm_min=300.0))
    assert made.feed_mm_min == 300.0 == made.feed_window.high


def test_feed_is_lowered_where_the_pass_would_stall_the_spindle():
    """0.8 of 2 kW over 0.05 kW per cm³/min leave 32 cm³/min, which at 10 × 8 mm is 400 mm/min."""
    steel = replace(of("low carbon steel"), unit_power_kw_cm3_min=0.05)
    cut = Cut(axial_mm=10.0, radial_mm=8.0)
    made = suggest(steel, a_tool(ToolShape.FLAT, 16.0, flutes=4), ToolUse.ROUGH, replace(FAST, power_kw=2.0), cut=cut)
    assert made.feed_mm_min == pytest.approx(400.0)
    assert made.power_share == pytest.approx(0.8)


def test_the_shop_s_own_number_goes_before_the_default():
    own = read_csv(HEADER + "aluminium,,,rough,10,,500,,,,,tried on Alder\n", is_own=True)
    made = suggest(of("aluminium"), a_tool(ToolShape.FLAT, 10.0), ToolUse.ROUGH, own=own)
    assert (made.speed_m_min.usual, made.speed_m_min.source) == (500.0, "tried on Alder")
    assert made.feed_mm.source != "tried on Alder"


def test_a_row_under_the_material_s_own_name_goes_before_one_of_its_group():
    own = read_csv(HEADER + "aluminium,,,rough,,,500,,,,,all\nalu 7075,,,rough,,,350,,,,,hard one\n", is_own=True)
    made = suggest(Material("alu 7075", "aluminium", 2800.0), a_tool(ToolShape.FLAT, 10.0), ToolUse.ROUGH, own=own)
    assert made.speed_m_min.source == "hard one"


def test_the_shop_s_own_number_for_one_size_leaves_far_sizes_alone():
    own = read_csv(HEADER + "aluminium,,,rough,3,,500,,,,,small ones\n", is_own=True)
    made = suggest(of("aluminium"), a_tool(ToolShape.FLAT, 16.0), ToolUse.ROUGH, own=own)
    assert made.speed_m_min.source != "small ones"


def test_a_material_that_nobody_knows_is_cut_slowly_and_said_to_be_unknown():
    mill = a_tool(ToolShape.FLAT, 10.0)
    unknown = suggest(of("unobtainium"), mill, ToolUse.ROUGH)
    known = [suggest(of(group), mill, ToolUse.ROUGH) for group in ("stainless steel", "low carbon steel", "aluminium")]
    assert not unknown.is_group_known
    assert all(unknown.rpm < made.rpm for made in known)


def test_every_group_has_a_speed_and_a_feed_for_every_use_of_every_tool_material():
    missing = [
        (group, material.value, use.value)
        for group in {row.group for row in default_rows()}
        for material in ToolMaterial
        for use in ToolUse
        if suggest(of(group), a_tool(ToolShape.FLAT, 8.0, material), use) is None and use is not ToolUse.TAP
    ]
    assert missing == []


def test_every_default_says_where_it_comes_from():
    said = [(window.source, window) for row in default_rows() for window in (row.speed_m_min, row.feed_mm) if window]
    assert all(source for source, _ in said)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("steel,,,rough,,50,40,60,,,,x", "rise"),
        ("steel,,,rough,,50,,,,,,x", "usual"),
        ("steel,,,whittle,,,40,,,,,x", "whittle"),
        ("steel,brass,,rough,,,40,,,,,x", "brass"),
        ("steel,,,rough,,,fast,,,,,x", "fast"),
    ],
)
def test_a_row_that_cannot_be_read_is_refused_with_its_line(line, said):
    with pytest.raises(BadRow, match=rf"line 2.*{said}"):
        read_csv(f"{HEADER}{line}\n")
