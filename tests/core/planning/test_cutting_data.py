"""First speeds and feeds lie inside published ranges; formulas give what worked examples give."""

import csv
import math
from pathlib import Path

import pytest

from shopflow.core.planning.cutting_data import TABLE, drill_feed_mm_min, mill_feed_mm_min, rpm, work_data
from tests.core.planning.parts import hss, tool

SPEEDS = Path(__file__).resolve().parents[4] / "shared" / "reference" / "cutting-speeds.csv"

MATERIALS = {
    "aluminium": ("aluminium",),
    "brass": ("brass", "bronze"),
    "stainless steel": ("stainless",),
    "titanium": ("titanium",),
    "tool steel": ("tool steel",),
    "alloy steel": ("alloy steel 4140", "alloy steel (42CrMo4)", "medium carbon", "low alloy steel"),
    "low carbon steel": ("low carbon steel", "mild steel", "non-alloy steel", "low alloy steel 10XX"),
    "cast iron": ("cast iron", "gray cast iron"),
    "plastic": ("acetal", "plastics"),
}


def published(words, is_carbide):
    """Lowest and highest surface speed, m/min, printed anywhere for a material and a kind of tool."""
    with SPEEDS.open() as handle:
        next(handle)
        rows = [
            row
            for row in csv.DictReader(handle)
            if row["material"].startswith(words)
            and ("carbide" in row["tool"]) == is_carbide
            and "lathe" not in row["operation"]
            and "turn" not in row["operation"]
        ]
    return rows and (min(float(r["vc_min_m_per_min"]) for r in rows), max(float(r["vc_max_m_per_min"]) for r in rows))


@pytest.mark.skipif(not SPEEDS.exists(), reason="the folder of reference tables is not beside the repository")
@pytest.mark.parametrize("is_carbide", [False, True], ids=["hss", "carbide"])
@pytest.mark.parametrize(("group", "words"), MATERIALS.items(), ids=list(MATERIALS))
def test_each_surface_speed_lies_inside_the_published_range(group, words, is_carbide):
    """Sources S01 to S10 of the reference table, which differ by two to five times: inside all of them together."""
    found = published(words, is_carbide)
    if not found:
        pytest.skip(f"no published speed for {group} with this kind of tool in the reference table")
    row = work_data(group)
    speed = row.carbide_m_min if is_carbide else row.hss_m_min
    assert found[0] - 0.1 <= speed <= found[1] + 0.1


def test_special_steels_are_found_before_plain_steel():
    groups = ["stainless steel", "alloy steel", "tool steel", "low carbon steel", "steel"]
    assert [work_data(group).words[0] for group in groups] == [
        "stainless",
        "alloy steel",
        "tool steel",
        "steel",
        "steel",
    ]


def test_a_material_without_a_known_group_goes_by_its_name():
    assert work_data("", "Aluminium 6061-T6").words == ("alumin",)


def test_an_unknown_material_is_cut_slowly():
    slowest = min(row.carbide_m_min for row in TABLE if row.words[0] != "titanium")
    assert work_data("unobtainium").carbide_m_min <= slowest


def test_spindle_speed_follows_from_surface_speed():
    """n = 1000 v / (π d): 75 m/min on ⌀10 of high-speed steel gives 2387 rpm."""
    assert rpm(hss(1, "drill", 10.0), work_data("aluminium"), 8000) == pytest.approx(1000 * 75 / (math.pi * 10))


@pytest.mark.parametrize(("of_machine", "of_tool", "expected"), [(2000, 0, 2000), (8000, 1500, 1500), (0, 0, 2387.3)])
def test_speed_is_held_down_by_machine_and_tool(of_machine, of_tool, expected):
    drill = hss(1, "drill", 10.0, max_rpm=of_tool)
    assert rpm(drill, work_data("aluminium"), of_machine) == pytest.approx(expected, abs=0.1)


def test_a_tooth_in_aluminium_takes_what_the_maker_s_table_says():
    """S05: ⌀1/2 in carbide end mill in aluminium 6061, 0.004 in (0.1016 mm) a tooth."""
    feed = mill_feed_mm_min(tool(1, "flat end mill", 12.7, flutes=2), work_data("aluminium"), 1000)
    assert feed == pytest.approx(0.1016 * 2 * 1000)


@pytest.mark.parametrize(
    ("diameter", "lowest", "highest"),
    [(3.0, 0.001, 0.002), (6.0, 0.002, 0.004), (12.0, 0.004, 0.007), (25.0, 0.007, 0.015), (30.0, 0.015, 0.025)],
)
def test_drill_feed_a_turn_lies_inside_the_training_manual_s_range(diameter, lowest, highest):
    """S01 (US Navy training manual): feed of a high-speed-steel twist drill in in/rev by diameter."""
    per_turn_in = drill_feed_mm_min(hss(1, "drill", diameter), 1.0) / 25.4
    assert lowest <= per_turn_in <= highest
