"""What pieces took, from when they were counted; kept for the next plan when the op ends."""

from datetime import timedelta

import pytest
from django.utils import timezone

from shopflow.floor import actions, reported, timing
from shopflow.jobs.models import TimeTaken
from shopflow.workflow.minutes import minutes_side_by_side
from tests.floor.objects import a_lot, passed_on, started

pytestmark = pytest.mark.django_db


def cut(lot, by, *counts):
    """Start op 20 five hours ago, count pieces at minutes after that, and finish it."""
    return actions.finish(running(lot, by, *counts), by=by)


def running(lot, by, *counts):
    passed_on(lot, 10, 12, by)
    begin = timezone.now() - timedelta(hours=5)
    with reported.made_at(begin):
        run = started(lot, 20, by)
    for minutes, pieces in counts:
        with reported.made_at(begin + timedelta(minutes=minutes)):
            actions.count_good(run, pieces, by=by)
    return run


def test_minutes_a_piece_are_those_between_counts(lead):
    """The first piece takes 40 minutes to prove out; then 2 pieces every 10."""
    cut(a_lot(lead), lead, (40, 1), (50, 2), (60, 2), (70, 2))
    taken = TimeTaken.objects.get()
    assert (float(taken.actual), taken.pieces) == (5.0, 7)


def test_a_lunch_between_two_counts_does_not_count(lead):
    cut(a_lot(lead), lead, (40, 1), (50, 2), (120, 2), (130, 2))
    assert float(TimeTaken.objects.get().actual) == 5.0


def test_pieces_that_were_reported_all_at_once_say_nothing(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 12, lead)
    run = started(lot, 20, lead)
    actions.count_good(run, 12, by=lead)
    actions.finish(run, by=lead)
    assert not TimeTaken.objects.exists()


def test_an_op_that_mills_nothing_says_nothing_of_a_machine(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 12, lead)
    actions.finish(lot.runs.get(), by=lead)
    assert not TimeTaken.objects.exists()


def test_a_second_run_of_the_lot_replaces_what_was_noted(lead):
    lot = a_lot(lead)
    cut(lot, lead, (10, 1), (20, 2))
    run = started(lot, 20, lead)
    actions.finish(run, by=lead)
    assert TimeTaken.objects.count() == 1


def test_a_run_that_goes_on_says_what_it_took_so_far(lead):
    run = running(a_lot(lead), lead, (40, 1), (50, 2))
    assert timing.minutes_each(run) == (5.0, 3)


def actual_of(lot, number):
    return next(row for row in minutes_side_by_side(lot.job) if row.step.op_number == number)


@pytest.mark.parametrize(("counts", "minutes", "pieces"), [([(40, 1)], 40.0, 1), ([(40, 1), (50, 2)], 5.0, 3)])
def test_what_is_counted_so_far_is_shown_while_the_op_still_runs(lead, counts, minutes, pieces):
    lot = a_lot(lead)
    running(lot, lead, *counts)
    row = actual_of(lot, 20)
    assert (row.actual, row.pieces, row.runs) == (pytest.approx(minutes), pieces, True)


def test_once_the_op_ended_the_actual_is_no_longer_so_far(lead):
    lot = a_lot(lead)
    cut(lot, lead, (40, 1), (50, 2))
    assert not actual_of(lot, 20).runs
