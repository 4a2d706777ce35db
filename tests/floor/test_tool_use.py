"""What a tool has left follows the pieces that the floor reports, in the same transaction, once for each report."""

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.floor import actions, queries
from shopflow.floor.models import Lot, Place
from shopflow.jobs.models import Job
from shopflow.people.models import User
from shopflow.programs import queries as programs
from shopflow.programs.models import Review
from shopflow.records.models import LedgerRow
from shopflow.shop import tool_life
from shopflow.shop.models import Tool
from shopflow.workflow.gates import release_gate, unmet
from tests.floor.objects import SETUP_CHECKS, op, passed_on
from tests.people_fixtures import make_person
from tests.workflow.objects import on_floor


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    """A milling op of three pieces runs; its mill T1 is counted in minutes, 100 of them."""
    owner = make_person("the_owner", password="seven brass fittings")
    lot = on_floor(owner, quantity=3).lots.get()
    passed_on(lot, 10, 3, owner)
    actions.start(lot, op(lot, 20), by=owner, compared="first lines", confirmed=SETUP_CHECKS)
    Tool.objects.filter(number=1).update(life=100)
    return lot.pk


@pytest.fixture
def lot(made_once, db):
    return Lot.objects.select_related("job").get(pk=made_once)


@pytest.fixture
def owner(lot):
    return User.objects.get(username="the_owner")


@pytest.fixture
def run(lot):
    return queries.open_run(lot, op(lot, 20))


@pytest.fixture
def each(lot):
    """Minutes at feed of one piece."""
    revision = queries.floor_copy_of(op(lot, 20)).revision
    return Decimal(str(programs.uses_a_piece(revision, op(lot, 20).setup)[1].minutes))


def used():
    return Tool.objects.get(number=1).life_used


def rows(kind=tool_life.USED):
    return LedgerRow.objects.filter(chain="shop", kind=kind)


def about(value):
    return pytest.approx(value, abs=Decimal("0.011"))


def test_pieces_counted_good_take_their_minutes_with_a_ledger_row(run, owner, each):
    actions.count_good(run, 2, by=owner)
    assert each > 0 and used() == about(2 * each)
    assert rows().get().data["pieces"] == 2


def test_a_report_sent_twice_takes_them_once(run, owner, each):
    for _ in range(2):
        actions.count_good(run, 1, by=owner, key="the-same-report")
    assert used() == about(each) and rows().count() == 1


def test_a_report_that_is_refused_takes_nothing(run, owner):
    with pytest.raises(actions.NotNow):
        actions.count_good(run, 9, by=owner)
    assert used() == 0


def test_a_tool_that_nobody_counts_gets_no_row(run, owner):
    Tool.objects.update(life=None)
    actions.count_good(run, 1, by=owner)
    assert not rows().exists()


def test_pieces_that_come_back_for_rework_are_cut_and_counted_again(lot, run, owner, each):
    actions.count_good(run, 1, by=owner)
    actions.rework(lot, op(lot, 30), op(lot, 20), 1, reason="burr in the slot", by=owner)
    actions.count_good(run, 1, by=owner)
    assert used() == about(2 * each)


def test_a_piece_scrapped_where_its_op_runs_was_cut_there(lot, owner, each):
    actions.scrap(lot, op(lot, 20), 1, reason="slipped", by=owner)
    assert used() == about(each)


def test_a_miscount_gives_back_what_was_never_cut(lot, run, owner, each):
    actions.count_good(run, 2, by=owner)
    actions.lose(lot, op(lot, 30), 1, reason="counted one too many", by=owner)
    assert used() == about(each)


def test_a_piece_that_is_found_again_was_cut_after_all(lot, run, owner, each):
    actions.count_good(run, 2, by=owner)
    actions.lose(lot, op(lot, 30), 1, reason="counted one too many", by=owner)
    actions.bring_back(lot, op(lot, 30), 1, Place.LOST, by=owner)
    assert used() == about(2 * each)


def test_a_new_edge_begins_at_nothing_with_a_ledger_row(run, owner):
    actions.count_good(run, 2, by=owner)
    tool_life.set_edge(Tool.objects.get(number=1), "new", by=owner)
    assert used() == 0 and rows(tool_life.EDGE).get().data["how"] == "new"


def test_a_correction_about_the_edge_before_leaves_the_new_one_alone(lot, run, owner, each):
    actions.count_good(run, 1, by=owner)
    tool_life.set_edge(Tool.objects.get(number=1), "reground", by=owner)
    Tool.objects.filter(number=1).update(life_used=5)
    actions.lose(lot, op(lot, 30), 1, reason="counted one too many", by=owner)
    assert used() == 5


def test_who_may_not_run_may_not_say_what_an_edge_is(viewer, lot):
    with pytest.raises(PermissionDenied):
        tool_life.set_edge(Tool.objects.get(number=1), "worn", by=viewer)


def test_what_is_used_lets_a_sign_off_stand_and_asks_for_no_review(lot, run, owner):
    before = Review.objects.count()
    actions.count_good(run, 2, by=owner)
    assert programs.unsigned(lot.job) == [] and Review.objects.count() == before


def test_the_station_says_after_which_piece_a_tool_runs_out(client, lot, owner, each):
    Tool.objects.filter(number=1).update(life_used=100 - each * Decimal("1.5"))
    client.force_login(owner)
    page = client.get(reverse("floor:op", args=[lot.pk, op(lot, 20).pk])).text
    assert "runs out after piece 1 of 3" in page


def test_the_release_waits_for_a_tool_that_is_used_up(lot):
    Tool.objects.filter(number=1).update(edge="out")
    assert any("sharp: T1" in one.text for one in unmet(release_gate(Job.objects.get(pk=lot.job_id))))


def test_an_edge_is_changed_at_the_station_and_one_comes_back_there(client, lot, owner):
    client.force_login(owner)
    back = reverse("floor:op", args=[lot.pk, op(lot, 20).pk])
    answer = client.post(reverse("shop:tool_edge", args=[Tool.objects.get(number=1).pk]), {"how": "worn", "back": back})
    assert (answer.url, Tool.objects.get(number=1).edge) == (back, "worn")


def test_nobody_is_sent_to_another_site(client, lot, owner):
    client.force_login(owner)
    address = reverse("shop:tool_edge", args=[Tool.objects.get(number=1).pk])
    assert client.post(address, {"how": "worn", "back": "https://elsewhere.example/"}).url == reverse("shop:crib")


def test_the_release_says_which_tool_does_not_last_the_lot_and_waits_for_nothing(lot, each):
    Tool.objects.filter(number=1).update(life_used=100 - each * Decimal("1.5"))
    gate = release_gate(Job.objects.get(pk=lot.job_id))
    assert [one.met for one in gate if "runs out after piece 1 of 3" in one.text] == [True]
