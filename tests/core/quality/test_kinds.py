"""Kinds of characteristics, what they are said in, and general tolerances of form, against ISO 2768."""

import csv
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.measure import NotALength, parse, parse_quantity
from shopflow.core.quality.general_tolerances import FLATNESS_MM, angle_arcmin, form_mm
from shopflow.core.quality.kinds import Kind, finest_step, fits, kind_named, quantity_of_unit, unit_of

FLATNESS = Path(__file__).resolve().parents[4] / "shared" / "reference" / "iso2768-2-flatness.csv"


def q(text, unit="mm"):
    return parse_quantity(text, default_unit=unit) if text else None


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("45°", "45", "°"), ("0.5 deg", "0.5", "°"), ("0°30'", "0.5", "°"), ("-1°15′", "-1.25", "°"),
        ("1.6 µm", "1.6", "µm"), ("1.6 um", "1.6", "µm"), ("1.6 μm", "1.6", "µm"), ("63 uin", "63", "µin"),
        ("12.5", "12.5", "mm"), (".500 in", "0.500", "in"),
    ],
)  # fmt: skip
def test_angles_and_finishes_are_read_beside_lengths(text, value, unit):
    found = q(text)
    assert (found.value, found.unit, found.text) == (Decimal(value), unit, text)


@pytest.mark.parametrize("text", ["45°", "1.6 µm", "0°30'"])
def test_a_plain_length_is_neither_an_angle_nor_a_finish(text):
    with pytest.raises(NotALength):
        parse(text, default_unit="mm")


def test_a_micrometre_is_a_thousandth_of_a_millimetre_and_a_microinch_25_4_thousandths_of_that():
    assert q("1.6 µm").in_unit("mm") == Decimal("0.0016")
    assert q("63 µin").in_unit("µm") == Decimal("1.6002")


def test_an_angle_is_never_made_a_length():
    with pytest.raises(NotALength, match="mm is asked for"):
        q("45°").in_unit("mm")


@given(st.decimals("0.001", "9999", places=3), st.sampled_from(["mm", "in", "µm", "µin"]))
def test_a_length_in_another_unit_and_back_is_the_same(value, unit):
    there = q(f"{value} {unit}").in_unit("mm")
    assert abs(q(f"{there:f} mm").in_unit(unit) - value) < Decimal("1e-15")


@pytest.mark.parametrize(
    ("kind", "lower", "upper", "step"),
    [
        (Kind.SIZE, "9.9", "10", "0.01 mm"), (Kind.SIZE, "", "10", None), (Kind.ANGLE, "59.5°", "60.5°", "0.1°"),
        (Kind.FINISH, "", "1.6 µm", "0.16 µm"), (Kind.FLATNESS, "", "0.02", "0.002 mm"),
        (Kind.POSITION, "", ".014 in", "0.0014 in"), (Kind.SIZE, "1 in", "25.5", "0.01 mm"),
    ],
)  # fmt: skip
def test_a_gauge_has_to_resolve_a_tenth_of_the_tolerance(kind, lower, upper, step):
    found = finest_step(kind, q(lower), q(upper))
    assert (found and str(found)) == step


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Flatness", "flatness"), ("position", "position"), ("circularity", "roundness"),
        ("surface profile", "profile"),
        ("profile of a line", "profile"), ("circular_runout", "run-out"), ("total run-out", "run-out"),
        ("perpendicularity", "perpendicularity"), ("diameter", ""), ("", ""),
    ],
)  # fmt: skip
def test_the_name_of_an_annotation_says_its_kind(name, kind):
    assert kind_named(name) == kind


def test_a_number_without_a_unit_is_what_the_kind_is_said_in():
    assert [unit_of(kind, "in") for kind in (Kind.SIZE, Kind.ANGLE, Kind.FINISH)] == ["in", "°", "µin"]


def test_only_an_angle_is_in_degrees():
    assert fits(Kind.ANGLE, "°") and not fits(Kind.ANGLE, "mm") and not fits(Kind.FLATNESS, "°")


def test_a_gauge_that_shows_micrometres_is_one_for_finishes():
    assert [quantity_of_unit(unit) for unit in ("mm", "in", "µm", "°")] == ["length", "length", "finish", "angle"]


def test_general_tolerances_of_place_are_those_of_iso_2768_2():
    """Tables 2 to 4, from memory: perpendicularity, symmetry, circular run-out."""
    assert [form_mm("perpendicularity", Decimal(60), one) for one in "HKL"] == [
        Decimal(v) for v in ("0.2", "0.4", "0.6")
    ]
    assert [form_mm("symmetry", Decimal(200), one) for one in "HKL"] == [Decimal(v) for v in ("0.5", "0.6", "1")]
    assert [form_mm("run-out", None, one) for one in "HKL"] == [Decimal(v) for v in ("0.1", "0.2", "0.5")]


@pytest.mark.parametrize("kind", ["position", "profile", "parallelism", "angularity"])
def test_what_the_standard_has_no_table_for_gets_none(kind):
    assert form_mm(kind, Decimal(60)) is None


@pytest.mark.skipif(not FLATNESS.exists(), reason="the table of flatness lies beside the repository")
def test_flatness_is_that_of_the_kept_table():
    lines = [line for line in FLATNESS.read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.reader(lines))[1:]
    kept = {number for row in rows for number in row[2:5]}
    assert {float(number) for row in FLATNESS_MM for number in row[2].values()} <= {float(n) for n in kept if n}


def test_a_countersink_of_a_short_flank_has_a_degree_either_way():
    """ISO 2768-1 table 3, medium: 1° up to 10 mm of the shorter side, 30' up to 50."""
    assert [angle_arcmin(Decimal(side), "m") for side in (3, 10, 11)] == [60, 60, 30]
