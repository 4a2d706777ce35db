"""What a station may report, and what it is told when it may not."""

import pytest
from django.core.exceptions import PermissionDenied

from shopflow.floor import actions, queries
from shopflow.floor.models import Place
from shopflow.jobs.models import Job
from shopflow.records import ledger
from tests.floor.objects import a_lot, op, passed_on, started

pytestmark = pytest.mark.django_db


def kinds(lot):
    return [row.kind for row in ledger.rows_for(lot.job.chain)]


def test_pieces_counted_good_stand_at_the_next_op(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 5, lead)
    assert [queries.standing_at(lot, op(lot, n)) for n in (10, 20)] == [7, 5]


def test_an_op_starts_only_where_pieces_stand(lead):
    lot = a_lot(lead)
    with pytest.raises(actions.NotNow, match="No piece of this lot stands at op 30"):
        started(lot, 30, lead)


def test_an_op_is_started_once_at_a_time(lead):
    lot = a_lot(lead)
    started(lot, 10, lead)
    with pytest.raises(actions.NotNow, match="already started"):
        started(lot, 10, lead)


def test_a_setup_starts_only_when_all_checks_are_confirmed(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 1, lead)
    with pytest.raises(actions.NotNow, match="stock and clamping are as drawn"):
        actions.start(lot, op(lot, 20), by=lead, confirmed=["tools", "cautions"])


def test_the_rest_of_a_lot_waits_for_its_first_piece(lead):
    lot = a_lot(lead)
    step = op(lot, 10)
    step.first_piece = True
    step.save()
    run = started(lot, 10, lead)
    with pytest.raises(actions.NotNow, match="first piece of op 10 is not accepted"):
        actions.count_good(run, 1, by=lead)


def test_an_accepted_first_piece_frees_the_rest(lead, inspector):
    lot = a_lot(lead)
    step = op(lot, 10)
    step.first_piece = True
    step.save()
    run = actions.accept_first_piece(started(lot, 10, lead), by=inspector)
    actions.count_good(run, 12, by=lead)
    assert queries.standing_at(lot, op(lot, 20)) == 12


def test_deburred_pieces_are_counted_only_after_the_edge_sheet_is_signed(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 2, lead)
    passed_on(lot, 20, 2, lead)
    run = started(lot, 30, lead)
    with pytest.raises(actions.NotNow, match="edge sheet of op 30 is not signed"):
        actions.count_good(run, 2, by=lead)


def test_the_edge_sheet_is_signed_once_for_the_lot_however_often_the_op_is_started(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 4, lead)
    passed_on(lot, 20, 4, lead)
    actions.finish(actions.sign_edges(started(lot, 30, lead), by=lead), by=lead)
    actions.count_good(started(lot, 30, lead), 4, by=lead)
    assert queries.standing_at(lot, op(lot, 40)) == 4


def test_a_held_job_counts_nothing_new(lead):
    lot = a_lot(lead)
    run = started(lot, 10, lead)
    Job.objects.filter(pk=lot.job_id).update(held_reason="drawing in question")
    run.refresh_from_db()
    with pytest.raises(actions.NotNow, match="drawing in question"):
        actions.count_good(run, 1, by=lead)


def test_pieces_leave_inspection_only_from_the_bench(lead):
    lot = a_lot(lead)
    for number in (10, 20, 30):
        passed_on(lot, number, 2, lead)
    run = started(lot, 40, lead)
    with pytest.raises(actions.NotNow, match="inspection bench"):
        actions.count_good(run, 1, by=lead)


def test_scrap_needs_a_reason(lead):
    lot = a_lot(lead)
    with pytest.raises(actions.NotNow, match="Say why"):
        actions.scrap(lot, op(lot, 10), 1, reason="  ", by=lead)


def test_scrapped_pieces_stay_counted_as_scrapped(lead):
    lot = a_lot(lead)
    actions.scrap(lot, op(lot, 10), 2, reason="tool broke", by=lead)
    assert queries.tally(lot.job)[Place.SCRAPPED] == 2


def test_what_a_person_typed_stands_beside_the_ledger_and_not_in_it(lead):
    lot = a_lot(lead)
    row = actions.scrap(lot, op(lot, 10), 1, reason="dropped by Example", by=lead)
    assert (row.remark.text, "Example" in row.payload) == ("dropped by Example", False)


def test_rework_goes_to_an_earlier_op_only(lead):
    lot = a_lot(lead)
    with pytest.raises(actions.NotNow, match="earlier op"):
        actions.rework(lot, op(lot, 10), op(lot, 20), 1, reason="burr", by=lead)


def test_a_split_lot_goes_on_alone(lead):
    lot = a_lot(lead)
    part = actions.split(lot, op(lot, 10), 4, by=lead)
    passed_on(part, 10, 4, lead)
    assert [queries.standing_at(one, op(lot, 20)) for one in (lot, part)] == [0, 4]


def test_a_split_sent_twice_is_one_lot_even_after_another_split(lead):
    lot = a_lot(lead)
    part = actions.split(lot, op(lot, 10), 4, by=lead, key="split-from-tablet")
    actions.split(lot, op(lot, 10), 1, by=lead, key="another-from-tablet")
    assert actions.split(lot, op(lot, 10), 4, by=lead, key="split-from-tablet") == part
    assert [one.released for one in lot.job.lots.order_by("number")] == [12, 4, 1]


def test_a_finished_op_is_started_again_before_more_is_counted(lead):
    lot = a_lot(lead)
    run = actions.finish(started(lot, 10, lead), by=lead)
    with pytest.raises(actions.NotNow, match="is finished"):
        actions.count_good(run, 1, by=lead)


@pytest.mark.parametrize("role", ["programmer", "reviewer", "inspector", "viewer", "stranger"])
def test_only_those_at_the_machines_count(everybody, role):
    lot = a_lot(everybody["lead"])
    run = started(lot, 10, everybody["machinist"])
    with pytest.raises(PermissionDenied):
        actions.count_good(run, 1, by=everybody[role])


def test_every_report_leaves_its_row_in_the_history(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 5, lead)
    assert kinds(lot)[-2:] == ["op_started", "counted_good"]
