"""Tables II-B and II-C of MIL-STD-105E against published copies, and all three against the curve they stand for."""

import csv
from itertools import pairwise
from math import comb, exp, factorial
from pathlib import Path

import pytest

from shopflow.core.quality.milstd105e import AQLS, NORMAL_SINGLE, REDUCED_SINGLE, TIGHTENED_SINGLE
from shopflow.core.quality.sampling import Severity, code_letter, single

PLANS = Path(__file__).with_name("milstd105e_plans.csv")
CURVES = Path(__file__).resolve().parents[4] / "shared" / "reference" / "oc-curve-values.csv"
LARGE = 10**7
LOT_OF = {letter: lot for lot in (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10000, 35000, 150000, 500000, LARGE)
          for level in ("II", "III") for letter in code_letter(lot, level)}  # fmt: skip
PRINTED = {
    "B": "v v v v v 1 v v", "C": "v v v v 1 v v 2", "D": "v v v 1 v v 2 3", "E": "v v 1 v v 2 3 4",
    "F": "v 1 v v 2 3 4 6", "G": "1 v v 2 3 4 6 9", "H": "v v 2 3 4 6 9 13", "J": "v 2 3 4 6 9 13 19",
    "K": "2 3 4 6 9 13 19 ^",
}  # fmt: skip
"""Rejection numbers of tightened inspection, AQL 0.65 to 15, as a guide of a US government agency prints them (NIBS,
AC-TABLE 1-B, "developed from MIL-STD-105E"); shafts and heads of arrows alike."""


def rows_of(severity):
    lines = PLANS.read_text(encoding="utf-8").splitlines()[1:]
    return [row for row in csv.DictReader(lines) if row["severity"] == severity]


def plan_at(rows, index, column):
    """Size, acceptance and rejection number where the arrows of a table lead."""
    while (cell := rows[index][2].split()[column]) in "v^":
        index += 1 if cell == "v" else -1
    accept, _slash, reject = cell.partition("/")
    return f"{rows[index][1]}/{accept}/{reject or int(accept) + 1}"


@pytest.mark.parametrize(("severity", "table"), [("tightened", TIGHTENED_SINGLE), ("reduced", REDUCED_SINGLE)])
def test_every_plan_is_that_of_a_public_statistics_package(severity, table):
    """All 16 letters by 26 AQLs; source in the file's first line."""
    for index, row in enumerate(rows_of(severity)):
        assert [plan_at(table, index, n) for n in range(len(AQLS))] == [row[f"AQL_{aql}"] for aql in AQLS], row["code"]


def test_tightened_plans_are_those_that_a_government_guide_prints():
    first = AQLS.index("0.65")
    for letter, printed in PRINTED.items():
        cells = next(row[2] for row in TIGHTENED_SINGLE if row[0] == letter).split()[first : first + 8]
        assert [cell if cell in "v^" else str(int(cell) + 1) for cell in cells] == printed.split(), letter


def test_an_arrow_behind_the_first_number_leads_to_a_larger_sample_when_tightened():
    """Lot of 150, level II, AQL 1.5: letter F points down to H, 50 pieces, accept on 1; up it would be 13 and none."""
    found = single(150, "1.5", severity=Severity.TIGHTENED)
    assert (found.letter, found.size, found.accept, found.reject) == ("H", 50, 1, 2)


def test_the_smallest_letters_have_reduced_numbers_of_their_own_over_an_aql_of_fifteen():
    """Table II-C, letter A at AQL 25: 2 pieces, 1 and 2; letter B at AQL 40: 2 and 4."""
    a, b = single(8, "25", severity=Severity.REDUCED), single(15, "40", severity=Severity.REDUCED)
    assert (a.size, a.accept, a.reject, b.size, b.accept, b.reject) == (2, 1, 2, 2, 2, 4)


def accepted(size, most, share):
    """Probability that a sample has at most so many nonconforming: binomial, by its definition."""
    return sum(comb(size, k) * share**k * (1 - share) ** (size - k) for k in range(most + 1))


def accepted_counts(size, most, each):
    """The same for nonconformities counted: Poisson."""
    mean = size * each
    return sum(exp(-mean) * mean**k / factorial(k) for k in range(most + 1))


@pytest.mark.skipif(not CURVES.exists(), reason="the folder ../shared/reference is not here: no curve was compared")
def test_the_probability_of_acceptance_is_that_of_published_curves():
    """Check points of ../shared/reference/oc-curve-values.csv, each with its source there."""
    rows = list(csv.DictReader(CURVES.read_text(encoding="utf-8").splitlines()[1:]))
    known = {"binomial": accepted, "poisson": accepted_counts}
    compared = [row for row in rows if row["model"].lower() in known]
    for row in compared:
        found = known[row["model"].lower()](int(row["n"]), int(row["c"]), float(row["fraction_defective"]))
        assert found == pytest.approx(float(row["p_accept"]), abs=6e-4), row
    assert len(compared) > 20


def own_plans(table):
    """(letter, AQL in percent, size, acceptance number) where a table has numbers of its own."""
    for letter, size, cells in table:
        for aql, cell in zip(AQLS, cells.split(), strict=True):
            if cell not in "v^":
                yield letter, float(aql), size, int(cell.partition("/")[0])


def chance(size, most, aql):
    """At the AQL itself; over 10 percent the tables count nonconformities."""
    return accepted(size, most, aql / 100) if aql <= 10 else accepted_counts(size, most, aql / 100)


def test_a_normal_plan_accepts_a_lot_at_its_aql_about_nineteen_times_in_twenty():
    """Common knowledge of these tables: from 88 % for the smallest samples to 99 % for the largest."""
    for letter, aql, size, accept in own_plans(NORMAL_SINGLE):
        assert 0.86 < chance(size, accept, aql) < 0.995, (letter, aql)


@pytest.mark.parametrize("table", [NORMAL_SINGLE, TIGHTENED_SINGLE])
def test_of_one_sample_size_a_higher_aql_lets_more_through(table):
    by_letter = {}
    for letter, aql, _size, accept in own_plans(table):
        by_letter.setdefault(letter, []).append((aql, accept))
    assert all(one[1] < other[1] for plans in by_letter.values() for one, other in pairwise(plans))


@pytest.mark.parametrize("aql", AQLS)
def test_at_the_aql_a_tightened_plan_accepts_no_more_often_than_the_normal_one(aql):
    """Of the same letter, arrows followed."""
    for lot in LOT_OF.values():
        normal, tight = (single(lot, aql, severity=one) for one in (Severity.NORMAL, Severity.TIGHTENED))
        if max(normal.size, tight.size) < lot:  # the whole lot is measured otherwise
            at_normal = chance(normal.size, normal.accept, float(aql))
            assert chance(tight.size, tight.accept, float(aql)) <= at_normal + 1e-9, lot


@pytest.mark.parametrize("aql", [aql for aql in AQLS if float(aql) <= 65])
def test_at_the_aql_a_reduced_plan_accepts_no_less_often_than_the_normal_one(aql):
    """A lot below the rejection number is accepted. Over 65 the two pieces of letter B accept a little less often."""
    for lot in LOT_OF.values():
        normal, eased = (single(lot, aql, severity=one) for one in (Severity.NORMAL, Severity.REDUCED))
        if normal.size < lot:
            at_normal = chance(normal.size, normal.accept, float(aql))
            assert chance(eased.size, eased.reject - 1, float(aql)) >= at_normal - 1e-9, lot
