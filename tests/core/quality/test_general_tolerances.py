"""General tolerances of ISO 2768-1:1989 and ISO 2768-2:1989, checked against the printed tables and their edges."""

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from shopflow.core.quality.general_tolerances import LINEAR_MM, angle_arcmin, edge_mm, flatness_mm, form_mm, linear_mm

TABLE = Path(__file__).resolve().parents[4] / "shared" / "reference" / "iso2768-1-linear.csv"


@pytest.mark.skipif(not TABLE.exists(), reason="the folder of reference tables is not beside the repository")
@pytest.mark.parametrize("tolerance_class", ["f", "m", "c", "v"])
def test_every_cell_is_that_of_the_printed_table(tolerance_class):
    """ISO 2768-1:1989 table 1, read through two printed copies (S24)."""
    with TABLE.open() as handle:
        next(handle)
        rows = list(csv.DictReader(handle))
    assert len(rows) == len(LINEAR_MM)
    for row in rows:
        printed = row[f"{tolerance_class}_plus_minus_mm"]
        found = linear_mm(Decimal(row["to_and_including_mm"]), tolerance_class)
        assert found == (Decimal(printed) if printed else None)


@pytest.mark.parametrize(
    ("nominal", "expected"),
    [
        ("0.49", None), ("0.5", "0.1"), ("3", "0.1"), ("6", "0.1"), ("6.001", "0.2"), ("30", "0.2"), ("120.01", "0.5"),
        ("4000", "2"), ("4000.1", None),
    ],
)  # fmt: skip
def test_a_size_on_an_edge_belongs_to_the_band_below(nominal, expected):
    assert linear_mm(Decimal(nominal)) == (Decimal(expected) if expected else None)


def test_an_unknown_class_is_refused():
    with pytest.raises(KeyError, match="classes f, m, c and v"):
        linear_mm(Decimal(10), "h")


@pytest.mark.skipif(not TABLE.exists(), reason="the folder of reference tables is not beside the repository")
@pytest.mark.parametrize(
    ("name", "found", "columns"),
    [
        ("iso2768-1-edges.csv", edge_mm, {"f_m_plus_minus_mm": "fm", "c_v_plus_minus_mm": "cv"}),
        (
            "iso2768-1-angular.csv", angle_arcmin,
            {"f_m_plus_minus_arcmin": "fm", "c_plus_minus_arcmin": "c", "v_plus_minus_arcmin": "v"},
        ),
        ("iso2768-2-flatness.csv", flatness_mm, {"H_mm": "H", "K_mm": "K", "L_mm": "L"}),
    ],
)  # fmt: skip
def test_edges_angles_and_flatness_are_those_of_the_printed_tables(name, found, columns):
    """ISO 2768-1:1989 tables 2 and 3, ISO 2768-2:1989 table 1 (S24)."""
    rows = list(csv.DictReader((TABLE.parent / name).read_text(encoding="utf-8").splitlines()[1:]))
    for row in rows:
        size = Decimal(row["to_and_including_mm"] or "5000")
        for column, classes in columns.items():
            assert {found(size, one) for one in classes} == {Decimal(row[column])}


def test_a_chamfer_under_half_a_millimetre_has_no_general_tolerance():
    assert edge_mm(Decimal("0.4")) is None


FORM = {
    "perpendicularity": {100: "0.2 0.4 0.6", 300: "0.3 0.6 1", 1000: "0.4 0.8 1.5", 3000: "0.5 1 2"},
    "symmetry": {100: "0.5 0.6 0.6", 300: "0.5 0.6 1", 1000: "0.5 0.8 1.5", 3000: "0.5 1 2"},
}
"""ISO 2768-2:1989 tables 2 and 3, H K L: all cells as one public copy has them, those of K as a second has."""


@pytest.mark.parametrize("kind", FORM)
def test_perpendicularity_and_symmetry_are_those_of_public_copies(kind):
    for upto, printed in FORM[kind].items():
        found = [form_mm(kind, Decimal(upto), one) for one in "HKL"]
        assert found == [Decimal(value) for value in printed.split()], upto


def test_run_out_needs_no_length():
    """ISO 2768-2:1989 table 4: 0.1, 0.2 and 0.5, in the same two copies."""
    assert [form_mm("run-out", None, one) for one in "HKL"] == [Decimal("0.1"), Decimal("0.2"), Decimal("0.5")]


def test_beyond_three_metres_there_is_no_general_tolerance_of_form():
    assert form_mm("perpendicularity", Decimal(3001), "K") is None
