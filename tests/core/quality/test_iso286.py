"""Tolerance classes of holes, against tables and examples that nobody here wrote."""

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from shopflow.core.quality.iso286 import GRADES_UM, NotAClass, hole_deviations_mm, is_class

REFERENCE = Path(__file__).resolve().parents[4] / "shared" / "reference"
needs_reference = pytest.mark.skipif(not REFERENCE.exists(), reason="the folder of reference tables is not here")


def rows(name):
    with (REFERENCE / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def um(nominal, name):
    return tuple(float(one * 1000) for one in hole_deviations_mm(Decimal(nominal), name))


@needs_reference
@pytest.mark.parametrize("grade", sorted(GRADES_UM))
def test_grades_are_those_of_the_standard_s_table(grade):
    """ISO 286-1:2010 table 1, as the reference file has it from a public package and a second web table."""
    for row in rows("iso286-it-grades.csv"):
        low, high = um(row["to_and_including_mm"], f"H{grade}")
        assert (low, high) == (0, float(row[f"IT{grade}_um"]))


@needs_reference
@pytest.mark.parametrize("letter", ["f", "g"])
def test_the_smallest_hole_lies_as_far_over_the_size_as_the_shaft_of_the_letter_lies_under_it(letter):
    """ISO 286-1:2010 fundamental deviations, tables of a public package."""
    known = [row for row in rows("iso286-shaft-deviations.csv") if row["letter"] == letter]
    assert known
    for row in known:
        assert um(row["to_and_including_mm"], f"{letter}7")[0] == -float(row["deviation_um"])


@needs_reference
def test_holes_of_known_fits_have_their_limits():
    """25 H7 and 50 H8 among them were also read on two web pages."""
    fits = rows("iso286-fit-examples.csv")
    assert len(fits) > 10
    for row in fits:
        nominal, both = row["fit"].split(" ")
        expected = float(row["hole_lower_um"]), float(row["hole_upper_um"])
        assert um(nominal, both.partition("/")[0]) == expected


@pytest.mark.parametrize(
    ("nominal", "name", "expected"),
    [("25", "G7", (7, 28)), ("25", "F8", (20, 53)), ("25", "JS7", (-10.5, 10.5)), ("50", "G7", (9, 34))],
)
def test_worked_examples_hold(nominal, name, expected):
    """ISO 286-2 limit deviations, from memory in the reference file."""
    assert um(nominal, name) == expected


@pytest.mark.parametrize("name", ["P7", "H4", "ZZ7", "7H", "", "H"])
def test_a_class_that_is_not_known_is_refused_with_what_to_do(name):
    with pytest.raises(NotAClass, match="limits"):
        hole_deviations_mm(Decimal(20), name)


@pytest.mark.parametrize("size", ["0", "-3", "500.1"])
def test_sizes_outside_of_the_table_are_refused(size):
    with pytest.raises(NotAClass, match="up to 500"):
        hole_deviations_mm(Decimal(size), "H7")


def test_a_length_is_no_class():
    assert [is_class(text) for text in ("H7", "js6", "0.05", "0.05 mm", "1/64 in")] == [True, True, False, False, False]
