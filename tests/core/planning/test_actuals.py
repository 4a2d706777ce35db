"""What machines really took: a ratio drawn towards the plan the more the fewer jobs say so."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning.actuals import Took, correction, shrunk, typical_minutes


def jobs(count, actual, machine="Alder", group="aluminium"):
    return [Took(machine, group, 10.0, actual)] * count


def test_without_jobs_the_plan_stands():
    assert correction([]).of("Alder", "aluminium").ratio == 1.0


def test_one_job_counts_for_half_where_jobs_scatter_as_groups_do():
    """Normal mean with a normal prior of the same variance: n / (n + 1) of the mean of the logarithms."""
    assert correction(jobs(1, 15.0)).of("Alder", "aluminium").ratio == pytest.approx(math.sqrt(1.5))


def test_many_jobs_are_believed():
    assert correction(jobs(40, 15.0)).of("Alder", "aluminium").ratio == pytest.approx(1.5, rel=0.02)


def test_the_spread_narrows_with_every_job():
    few, many = (shrunk([0.2] * count) for count in (2, 20))
    assert many.high - many.low < few.high - few.low


def test_one_machine_says_nothing_of_another():
    assert correction(jobs(5, 15.0)).of("Birch", "aluminium").ratio == 1.0


def test_a_clock_that_nobody_stopped_counts_as_ten_times_at_most():
    assert correction(jobs(1, 5000.0)).of("Alder", "aluminium").ratio <= math.sqrt(10.0) + 1e-9


def test_a_lot_without_minutes_says_nothing():
    assert correction([Took("Alder", "aluminium", 0.0, 5.0)]).ratios == {}


@given(st.lists(st.floats(0.2, 5.0), min_size=1, max_size=30))
def test_the_ratio_lies_between_the_plan_and_the_mean_of_the_jobs(ratios):
    logs = [math.log(ratio) for ratio in ratios]
    middle = sum(logs) / len(logs)
    found = math.log(shrunk(logs).ratio)
    assert min(0.0, middle) - 1e-9 <= found <= max(0.0, middle) + 1e-9


@pytest.mark.parametrize(
    ("counts", "minutes"),
    [
        ([(40, 1), (10, 2), (10, 2)], 5.0),
        ([(12, 3)], 4.0),
        ([(40, 1), (10, 2), (480, 1), (10, 2)], 5.0),
        ([(0.0, 12)], None),
        ([], None),
        ([(5, 0)], None),
    ],
)
def test_the_usual_minutes_of_a_piece_are_the_middle_of_all(counts, minutes):
    assert typical_minutes(counts) == minutes
