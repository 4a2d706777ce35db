"""Counting over the days that a shop works."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.planning import Closed, Workdays, latest_start

FRIDAY, MONDAY = dt.date(2026, 12, 25), dt.date(2026, 12, 28)
CHRISTMAS = Closed(dt.date(2026, 12, 24), dt.date(2027, 1, 1), "the days between the years")
DAYS = st.dates(dt.date(2020, 1, 1), dt.date(2035, 1, 1))


@st.composite
def calendars(draw):
    week = draw(st.frozensets(st.integers(1, 7), min_size=1))
    firsts = draw(st.lists(DAYS, max_size=4))
    closed = [Closed(day, day + dt.timedelta(days=draw(st.integers(0, 20))), "off") for day in firsts]
    return Workdays(week, tuple(closed))


def test_after_friday_comes_monday():
    assert Workdays().after(dt.date(2026, 11, 27)) == dt.date(2026, 11, 30)


def test_closed_days_are_passed_over_with_both_of_their_ends():
    assert Workdays(closed=(CHRISTMAS,)).after(dt.date(2026, 12, 23)) == dt.date(2027, 1, 4)


def test_a_shop_that_works_on_saturdays_goes_on_on_saturday():
    assert Workdays(frozenset(range(1, 7))).after(dt.date(2026, 11, 27)) == dt.date(2026, 11, 28)


def test_a_closed_day_says_its_name():
    assert Workdays(closed=(CHRISTMAS,)).why_closed(dt.date(2027, 1, 1)) == "the days between the years"


def test_a_job_starts_before_the_closed_days_that_lie_in_its_time():
    assert latest_start(dt.date(2027, 1, 5), 3 * 420, Workdays(closed=(CHRISTMAS,))) == dt.date(2026, 12, 22)


@given(calendars(), DAYS)
def test_the_next_day_is_worked_and_none_between_is(days, today):
    after = days.after(today)
    assert days.is_worked(after) and after > today
    assert not any(days.is_worked(today + dt.timedelta(days=n)) for n in range(1, (after - today).days))


@given(calendars(), DAYS, st.integers(1, 12))
def test_counting_back_leaves_as_many_worked_days_as_were_asked_for(days, due, count):
    start = days.before(due, count)
    between = [start + dt.timedelta(days=n) for n in range((due - start).days)]
    assert sum(map(days.is_worked, between)) == count


@given(calendars(), DAYS, st.integers(0, 40))
def test_late_days_are_those_worked_since(days, due, later):
    today = due + dt.timedelta(days=later)
    worked = [n for n in range(1, later + 1) if days.is_worked(due + dt.timedelta(days=n))]
    assert days.late_by(due, today) == len(worked)


@pytest.mark.parametrize("count", [1, 3])
def test_a_calendar_without_a_worked_day_counts_over_all_days(count):
    assert Workdays(frozenset()).before(MONDAY, count) == MONDAY - dt.timedelta(days=count)
