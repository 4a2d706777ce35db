"""Pp and Ppk against worked values, open data and exact bounds."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.quality.capability import LEAST_VALUES, indices, lowest_index, performance

REFERENCE = Path(__file__).resolve().parents[4] / "shared" / "reference"


def test_a_worked_example_of_both_limits():
    """Mean 16, s 2, limits 8 and 20: 1.0 and 0.6667 (NIST/SEMATECH e-Handbook 6.1.6)."""
    assert indices(16, 2, 8, 20) == (1.0, pytest.approx(0.6667, abs=5e-5))


def test_a_worked_example_of_one_limit():
    """Mean 264, s 32, at least 200: 0.667, and no Pp (Montgomery, example 8.2)."""
    assert indices(264, 32, 200, None) == (None, pytest.approx(0.667, abs=5e-4))


@pytest.mark.parametrize(
    ("n", "ppk", "exact"),
    [(25, 0.67, 0.4733), (25, 1.33, 0.9908), (30, 1.0, 0.7584), (50, 1.33, 1.0931), (50, 2.0, 1.655),
     (100, 1.67, 1.4655), (300, 1.33, 1.2346)],
)  # fmt: skip
def test_the_least_index_is_near_the_exact_bound(n, ppk, exact):
    """Exact for one limit: the noncentral t distribution of SciPy 1.16, solved for the bound."""
    assert lowest_index(ppk, n) == pytest.approx(exact, abs=0.007)


@pytest.mark.skipif(not REFERENCE.exists(), reason="the folder ../shared/reference is not here: no open data was read")
@pytest.mark.parametrize("name", ["Michelso", "Mavro"])
def test_mean_and_deviation_are_those_that_nist_certifies(name):
    """NIST Statistical Reference Datasets, univariate summary statistics."""
    values = (REFERENCE / f"nist-strd-{name.lower()}.csv").read_text().split()
    numbers = [float(value) for value in values if value.replace(".", "").isdigit()]
    with (REFERENCE / "nist-strd-univariate.csv").open() as handle:
        next(handle)
        known = next(row for row in csv.DictReader(handle) if row["dataset"] == name)
    found = performance(numbers, min(numbers), max(numbers))
    assert found.n == int(known["n"]) and found.mean == pytest.approx(float(known["mean"]), rel=1e-14)
    assert found.deviation == pytest.approx(float(known["sd_n_minus_1"]), rel=1e-12)


def test_few_values_and_values_all_alike_say_nothing():
    assert performance([10.0] * LEAST_VALUES, 9, 11) is None
    assert performance([10.0, 10.1] * 12, 9, 11) is None
    assert performance([10.0, 10.1] * 20, None, None) is None


@given(
    st.lists(st.floats(-1, 1), min_size=LEAST_VALUES, max_size=60).filter(
        lambda values: max(values) - min(values) > 0.01
    )
)
def test_the_index_to_the_nearer_limit_is_never_over_that_of_the_whole_width(values):
    found = performance(values, -2, 2)
    assert found.least < found.ppk <= found.pp + 1e-9
