"""A lot that is split: what was signed for all its pieces holds for both lots, and what is wrong follows the piece."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.floor import actions as floor
from shopflow.floor import queries as standings
from shopflow.inspection import actions, queries
from shopflow.inspection.models import Disposition
from shopflow.workflow import actions as workflow
from shopflow.workflow.gates import ship_problems
from shopflow.workflow.history import entries_of
from tests.floor.objects import a_lot, op, passed_on, started
from tests.inspection.objects import at_the_bench, balloon

pytestmark = pytest.mark.django_db
Verdict = Disposition.Verdict


@pytest.fixture
def lot(lead):
    """Five pieces at the bench (op 40); the bore of piece 3 is out."""
    lot = at_the_bench(lead, quantity=5)
    actions.measure(balloon(lot, 1), lot, 3, "10.20", by=lead)
    return lot


def split(lot, quantity, by, number=40):
    return floor.split(lot, op(lot, number), quantity, by=by)


def wrong(lot):
    return lot.nonconformances.get()


def all_measured(lot, by):
    for number, value in ((1, "10.01"), (2, "1.500")):
        actions.measure(balloon(lot, number), lot, 1, value, by=by)


# Edge sheets


@pytest.fixture
def deburred(lead):
    """Six pieces at the deburr bench (op 30), whose edge sheet is signed there."""
    lot = a_lot(lead, quantity=6)
    for number in (10, 20):
        passed_on(lot, number, 6, lead)
    floor.sign_edges(started(lot, 30, lead), by=lead)
    return lot


def test_an_edge_sheet_signed_before_the_split_holds_for_both_lots(deburred, lead):
    part = split(deburred, 2, lead, number=30)
    for lot, quantity in ((deburred, 4), (part, 2)):
        run = standings.open_run(lot, op(lot, 30)) or started(lot, 30, lead)
        floor.count_good(run, quantity, by=lead)
        assert standings.standing_at(lot, op(lot, 40)) == quantity


def test_an_edge_sheet_of_an_op_already_done_holds_for_a_lot_split_off_later_and_for_the_one_split_off_that(
    deburred, lead
):
    floor.count_good(standings.open_run(deburred, op(deburred, 30)), 6, by=lead)
    part = split(split(deburred, 4, lead), 2, lead)
    floor.rework(part, op(part, 40), op(part, 30), 1, reason="a burr", by=lead)
    floor.count_good(started(part, 30, lead), 1, by=lead)
    assert standings.edge_sheet(part, op(part, 30)).lot == deburred


def test_an_edge_sheet_signed_after_the_split_holds_for_the_lot_that_signed_it_alone(lead):
    lot = a_lot(lead, quantity=6)
    for number in (10, 20):
        passed_on(lot, number, 6, lead)
    part = split(lot, 2, lead, number=30)
    floor.sign_edges(started(lot, 30, lead), by=lead)
    with pytest.raises(floor.NotNow, match="edge sheet of op 30 is not signed"):
        floor.count_good(started(part, 30, lead), 2, by=lead)


def test_an_edge_sheet_does_not_hold_for_pieces_that_were_still_at_an_earlier_op(lead):
    lot = a_lot(lead, quantity=6)
    passed_on(lot, 10, 6, lead)
    passed_on(lot, 20, 3, lead)
    floor.sign_edges(started(lot, 30, lead), by=lead)
    part = split(lot, 3, lead, number=20)
    passed_on_by_hand = floor.count_good(started(part, 20, lead), 3, by=lead)
    assert passed_on_by_hand.data["quantity"] == 3
    assert standings.edge_sheet(part, op(part, 30)) is None


def test_the_page_of_the_op_says_for_which_lot_its_edge_sheet_was_signed(deburred, lead, client):
    part = split(deburred, 2, lead, number=30)
    client.force_login(lead)
    page = client.get(reverse("floor:op", args=[part.pk, op(part, 30).pk])).content.decode()
    assert "for lot 1, before this lot was split off" in " ".join(page.split())
    assert "data-edges" not in page


# Nonconformances


def test_neither_lot_goes_on_before_it_is_said_where_the_piece_is(lot, lead):
    part = split(lot, 2, lead)
    actions.dispose(wrong(lot), Verdict.USE_AS_IS, reason="clears", by=lead, customer_told="R. to Q., today")
    for either in (lot, part):
        all_measured(either, lead)
        with pytest.raises(floor.NotNow, match=r"nobody said in which of them this is \(piece 3: balloon 1 measures"):
            actions.pass_pieces(either, op(lot, 40), 1, by=lead)
        assert len(ship_problems(lot.job, either)) == 1


def test_a_lot_split_off_the_split_lot_waits_for_the_same_answer(lot, lead):
    part = split(split(lot, 3, lead), 1, lead)
    assert [one.found for one in queries.unplaced(part)] == [wrong(lot)]


def test_a_nonconformance_that_went_along_counts_in_the_new_lot_alone(lot, lead):
    part = split(lot, 2, lead)
    actions.place(wrong(lot), part, went=True, by=lead)
    assert queries.unsettled(lot) == []
    assert queries.unsettled(part) == ["1 nonconformance has no disposition."]


def test_a_nonconformance_that_stayed_keeps_nothing_of_the_new_lot(lot, lead):
    part = split(lot, 2, lead)
    actions.place(wrong(lot), part, went=False, by=lead)
    assert (queries.unsettled(part), len(queries.unsettled(lot))) == ([], 1)


def test_a_piece_that_went_along_to_be_scrapped_is_scrapped_where_it_is(lot, lead):
    part = split(lot, 2, lead)
    found = wrong(lot)
    actions.place(found, part, went=True, by=lead)
    actions.dispose(found, Verdict.SCRAP, reason="too wide", by=lead)
    floor.scrap(lot, op(lot, 40), 1, reason="another one", by=lead)
    assert "1 pieces are to be scrapped and 0 are reported" in queries.unsettled(part)[0]
    floor.scrap(part, op(part, 40), 1, reason="too wide", by=lead)
    assert queries.unsettled(part) == []


def test_a_piece_that_went_along_to_be_reworked_keeps_its_number_and_is_measured_again_there(lot, lead):
    part = split(lot, 2, lead)
    found = wrong(lot)
    actions.place(found, part, went=True, by=lead)
    actions.dispose(found, Verdict.REWORK, reason="bore it again", by=lead)
    assert 3 in queries.pieces_to_measure(part, op(part, 40))
    assert queries.unsettled(part) == ["To be measured again after rework: balloon 1 of piece 3."]
    actions.measure(balloon(part, 1), part, 3, "10.03", by=lead)
    assert queries.unsettled(part) == []


def test_nothing_is_asked_about_what_was_found_after_the_split(lead):
    lot = at_the_bench(lead, quantity=4)
    part = split(lot, 2, lead)
    actions.raise_nonconformance(lot, text="a scratch", by=lead)
    assert (queries.unplaced(lot), queries.unplaced(part)) == ([], [])


def test_nothing_is_asked_about_a_piece_that_was_scrapped_before(lot, lead):
    actions.dispose(wrong(lot), Verdict.SCRAP, reason="too wide", by=lead)
    floor.scrap(lot, op(lot, 40), 1, reason="too wide", by=lead)
    assert queries.unplaced(split(lot, 2, lead)) == []


def test_what_was_said_by_mistake_is_said_again(lot, lead):
    part = split(lot, 2, lead)
    found = wrong(lot)
    actions.place(found, part, went=True, by=lead)
    actions.place(found, part, went=False, by=lead)
    assert (wrong(lot), part.nonconformances.count()) == (found, 0)


def test_a_nonconformance_of_a_third_lot_cannot_be_placed(lot, lead):
    part = split(lot, 2, lead)
    other = split(lot, 1, lead)
    actions.place(wrong(lot), part, went=True, by=lead)
    with pytest.raises(actions.NotMeasurable, match="of another lot now"):
        actions.place(part.nonconformances.get(), other, went=False, by=lead)


def test_those_who_may_not_measure_say_nothing(lot, lead, everybody):
    part = split(lot, 2, lead)
    with pytest.raises(PermissionDenied):
        actions.place(wrong(lot), part, went=True, by=everybody["viewer"])


def test_the_history_says_in_which_lot_the_piece_is(lot, lead):
    part = split(lot, 2, lead)
    actions.place(wrong(lot), part, went=True, by=lead)
    said = [entry.text for entry in entries_of(lot.job.chain, newest=2)]
    assert said == ["nonconformance is of a piece in lot 2", "lot split at op 40, 2 pieces go on alone as lot 2"]


def test_a_split_lot_ships_with_the_exception_of_its_own_piece(lot, lead):
    part = split(lot, 2, lead)
    found = wrong(lot)
    actions.place(found, part, went=True, by=lead)
    actions.dispose(found, Verdict.USE_AS_IS, reason="clears", by=lead, customer_told="R. to Q., today")
    all_measured(part, lead)
    actions.pass_pieces(part, op(part, 40), 2, by=lead)
    workflow.ship(part.job, part, 2, by=lead)
    assert (queries.told_to_the_customer(part), queries.told_to_the_customer(lot)) == ([found], [])


@pytest.mark.parametrize("place", ["bench", "lot", "split lot"])
def test_the_bench_asks_where_the_piece_is_and_takes_the_answer(lot, lead, client, place):
    part = split(lot, 2, lead)
    client.force_login(lead)
    at = {"bench": reverse("inspection:bench")} | {
        name: reverse("inspection:lot", args=[one.pk, op(lot, 40).pk])
        for name, one in (("lot", lot), ("split lot", part))
    }
    assert "Lot 2 was split off lot 1 after this was found" in client.get(at[place]).content.decode()
    sent = {"split_lot": part.pk, "went": "yes", "back": at[place]}
    answer = client.post(reverse("inspection:place", args=[wrong(lot).pk]), sent, follow=True)
    assert answer.redirect_chain[-1][0] == at[place]
    assert "was split off lot 1" not in answer.content.decode()


@pytest.mark.parametrize(("went", "offered"), [(True, "in lot 1 after all"), (False, "in lot 2 after all")])
def test_the_lots_page_lets_a_mistaken_answer_be_changed(lot, lead, client, went, offered):
    actions.place(wrong(lot), part := split(lot, 2, lead), went=went, by=lead)
    client.force_login(lead)
    where = part if went else lot
    assert offered in client.get(reverse("inspection:lot", args=[where.pk, op(lot, 40).pk])).content.decode()


def test_an_answer_without_a_lot_is_asked_again(lot, lead, client):
    split(lot, 2, lead)
    client.force_login(lead)
    answer = client.post(reverse("inspection:place", args=[wrong(lot).pk]), {"went": "yes"}, follow=True)
    assert "Say in which of the two lots the piece is." in answer.content.decode()
