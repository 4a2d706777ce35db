"""What machines really took: a ratio drawn towards the plan the more the fewer jobs say so."""

import math
from collections import Counter
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning.actuals import SetUp, Took, correction, set_up_minutes, shrunk, typical_minutes
from shopflow.core.planning.setting_up import Held


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


def set_ups(count, actual, held=Held.VISE):
    return [SetUp(held, 20.0, actual)] * count


def test_one_kind_of_workholding_says_nothing_of_another():
    known = correction([], set_ups(5, 30.0))
    assert (known.of_setting_up(Held.VISE).jobs, known.of_setting_up(Held.CLAMPS).ratio) == (5, 1.0)


def test_set_ups_are_drawn_towards_the_plan_as_lots_are():
    """Normal mean with a normal prior of the same variance: n / (n + 1) of the mean of the logarithms."""
    assert correction([], set_ups(1, 30.0)).of_setting_up(Held.VISE).ratio == pytest.approx(math.sqrt(1.5))


@given(st.lists(st.tuples(st.sampled_from(Held), st.floats(1.0, 200.0)), max_size=30))
def test_set_ups_say_nothing_of_cutting_and_lots_nothing_of_setting_up(told):
    rows = [SetUp(held, 20.0, actual) for held, actual in told]
    together = correction(jobs(3, 15.0), rows)
    assert together.ratios == correction(jobs(3, 15.0)).ratios
    assert together.setting_up == correction([], rows).setting_up
    assert {held: ratio.jobs for held, ratio in together.setting_up.items()} == dict(Counter(held for held, _ in told))


@given(st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1)), st.floats(-3000.0, 3000.0))
def test_minutes_of_a_set_up_are_those_of_one_day_from_a_minute_up(begun, minutes):
    done = begun + timedelta(minutes=minutes)
    found = set_up_minutes(begun, done)
    if begun.date() == done.date() and (done - begun).total_seconds() >= 60:
        assert found == pytest.approx((done - begun).total_seconds() / 60)
    else:
        assert found is None
