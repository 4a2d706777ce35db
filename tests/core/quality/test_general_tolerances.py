"""ISO 2768-1:1989 table 1, checked against the printed table and its edges."""

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from shopflow.core.quality.general_tolerances import LINEAR_MM, linear_mm

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
