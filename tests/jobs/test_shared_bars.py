"""Several jobs that saw their blanks from one bar: the rest is offered, taken once, and kept when others change."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.core.measure import parse
from shopflow.jobs import actions, queries
from shopflow.jobs.models import BarPick, Job, PlanApproval
from shopflow.people.models import Role
from shopflow.records import ledger
from shopflow.shop.models import StockBar
from shopflow.workflow import gates
from tests.jobs.objects import a_long_bar, a_planned_job, a_second_job
from tests.people_fixtures import make_person


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    planner = make_person("the_planner", Role.LEAD, Role.PROGRAMMER)
    first = a_planned_job(planner)
    Job.objects.filter(pk=first.pk).update(quantity=8)
    a_long_bar(first.material)
    return first.pk, a_second_job(first, planner).pk


@pytest.fixture
def lead(db):
    return make_person("the_owner", "lead", "programmer")


@pytest.fixture
def jobs(made_once, db):
    return [Job.objects.get(pk=pk) for pk in made_once]


@pytest.fixture
def first(jobs):
    return jobs[0]


@pytest.fixture
def second(jobs):
    return jobs[1]


def choices(job):
    return queries.stock_choices(job, queries.proposal_of(job))


def take(job, by):
    return actions.take_stock(job, choices(job)[0].key, by=by)


@pytest.fixture
def shared(first, second, lead):
    """Eight blanks of the first job and two of the second, of one bar."""
    return [*take(first, lead), *take(second, lead)]


def mm(text):
    return parse(text, default_unit="mm")


def kinds(job):
    return list(ledger.rows_for(job.chain).values_list("kind", flat=True))


# -- offered


def test_the_rest_behind_another_jobs_pieces_is_offered_and_named(first, second, lead):
    take(first, lead)
    (shares, buys) = choices(second)
    said = f"the rest of bar B-09, after job {first.number}’s pieces"
    assert (str(shares.rests[0]), shares.option.why[:2]) == (said, ("on the rack", "shares a bar"))
    assert (buys.rests, buys.option.to_buy) == ((), 1)


def test_a_rest_that_is_too_short_to_be_kept_is_not_offered(first, second, lead):
    StockBar.objects.update(length="590 mm")  # leaves 49 mm, the house rule keeps 50
    take(first, lead)
    assert [choice.rests for choice in choices(second)] == [()]


def test_the_rest_of_a_bar_that_was_sent_for_one_job_is_offered_to_no_other(first, second, lead):
    StockBar.objects.update(owner=first.customer.name, for_job=first.number)
    take(first, lead)
    assert choices(second) == []


def test_the_rest_of_a_customers_bar_is_offered_to_no_other_customer(first, lead):
    StockBar.objects.update(owner=first.customer.name)
    take(first, lead)
    assert choices(a_second_job(first, lead, customer="Harbour Lifts", part_number="H-1")) == []


def test_heats_are_told_apart_in_a_rest_too(first, second, lead):
    take(first, lead)
    a_long_bar(first.material, number="B-10", length="120 mm", heat_number="H2", remnant=True)
    assert all(len(choice.option.heats) <= 1 for choice in choices(second))


# -- taken


def test_taking_a_rest_lies_behind_the_first_job_and_reserves_a_length(shared):
    eight, two = shared
    eight.refresh_from_db()
    assert (two.after, two.bar.number, str(eight.left), str(two.left)) == (eight, "B-09", "459 mm", "325 mm")


def test_each_job_pays_its_share_of_the_bar(shared):
    eight, two = (BarPick.objects.get(pk=pick.pk) for pick in shared)
    assert (round(eight.cost, 2), round(two.cost, 2)) == (54.1, 13.4)  # 5 + 8 × 67, and 2 × 67, of 1000 mm for 100


def test_a_bar_that_is_shared_counts_once_on_the_rack(shared, first, lead):
    third = a_second_job(first, lead, part_number="BP-2300")
    assert [free for _row, free in queries.free_bars(third)] == [0]


def test_where_fewer_bars_are_shared_than_the_first_job_has_its_pick_is_split(first, second, lead):
    StockBar.objects.update(on_hand=2)
    take(first, lead)
    BarPick.objects.update(bars=2, pieces=16)
    (two,) = take(second, lead)
    alone, shared_one = first.bar_picks.order_by("pk")
    assert [(pick.bars, pick.pieces) for pick in (alone, shared_one)] == [(1, 8), (1, 8)]
    assert two.after == shared_one


def test_both_histories_say_that_a_bar_is_shared(shared, first, second):
    assert "bar_shared" in kinds(first) and "stock_picked" in kinds(second)


def test_a_rest_that_somebody_took_meanwhile_is_refused(first, second, lead):
    StockBar.objects.update(length="700 mm")
    take(first, lead)
    seen = choices(second)[0].key
    third = a_second_job(first, lead, part_number="BP-2300")
    take(third, lead)
    with pytest.raises(NotPossible, match="changed meanwhile"):
        actions.take_stock(second, seen, by=lead)


def test_bars_that_were_bought_leave_a_rest_too_once_they_are_here(first, second, lead):
    StockBar.objects.update(on_hand=0)
    Job.objects.filter(pk=first.pk).update(quantity=20)  # fourteen of one bar, six of the other
    first.refresh_from_db()
    actions.receive_bars(take(first, lead)[0], by=lead, heat_number="H7")
    assert [(pick.bars, pick.pieces, str(pick.left)) for pick in first.bar_picks.all()] == [
        (1, 14, "57 mm"), (1, 6, "593 mm"),
    ]  # fmt: skip
    assert [choice.option.heats for choice in choices(second) if choice.rests] == [("H7",)]


# -- when the first changes


def test_a_first_job_that_gives_back_leaves_the_other_its_length(shared, first, lead):
    actions.give_back(first, by=lead)
    two = BarPick.objects.get(pk=shared[1].pk)
    assert (two.after, str(two.left)) == (None, "861 mm")  # 1000 - 5 - 2 × 67


def test_material_that_was_given_back_is_not_received_any_more(shared, first, lead):
    actions.give_back(first, by=lead)
    first.refresh_from_db()
    assert (first.material_received, first.heat_number) == (False, "")


def test_a_first_job_that_wants_more_gets_no_length_of_the_other(shared, first, lead):
    Job.objects.filter(pk=first.pk).update(quantity=14)  # 14 × 67 alone would fit the bar
    first.refresh_from_db()
    actions.take_stock(first, next(choice.key for choice in choices(first) if choice.rests), by=lead)
    assert BarPick.objects.filter(pk=shared[1].pk).exists()
    assert sum(pick.pieces for pick in first.bar_picks.filter(to_buy=False)) == 12  # 1000 - 5 - 14 × 67 = 57


def test_a_job_in_the_middle_that_gives_back_lets_the_last_move_up(shared, first, second, lead):
    third = a_second_job(first, lead, part_number="BP-2300")
    (last,) = take(third, lead)
    actions.give_back(second, by=lead)
    last.refresh_from_db()
    assert (last.after, str(last.left)) == (shared[0], "325 mm")


# -- sawn


def test_the_others_reservation_lies_on_the_remnant(shared, lead):
    actions.saw(shared[0], by=lead, left=mm("458 mm"))
    two = BarPick.objects.get(pk=shared[1].pk)
    assert (two.bar.number, str(two.bar.length), two.after, str(two.left)) == ("B-09-R1", "458 mm", None, "324 mm")


def test_a_remnant_is_worth_its_share_of_the_bar(shared, lead):
    actions.saw(shared[0], by=lead, left=mm("458 mm"))
    assert str(StockBar.objects.get(number="B-09-R1").price) == "45.80"


def test_who_saws_first_need_not_come_first(shared, lead):
    actions.saw(shared[1], by=lead, left=mm("860 mm"))
    eight = BarPick.objects.get(pk=shared[0].pk)
    assert (eight.bar.number, str(eight.left)) == ("B-09-R1", "324 mm")  # 860 - 8 × 67


def test_sawn_together_one_remnant_is_left(shared, lead):
    actions.saw_all(shared[0], by=lead, left=mm("320 mm"))
    rows = {row.number: (row.on_hand, str(row.length)) for row in StockBar.objects.all()}
    assert rows == {"B-09": (0, "1000 mm"), "B-09-R1": (1, "320 mm")}
    assert not BarPick.objects.filter(sawn_at=None).exists()


def test_what_all_jobs_paid_and_what_is_left_is_the_price_of_the_bar(shared, lead):
    actions.saw_all(shared[0], by=lead, left=mm("320 mm"))
    paid = sum(pick.cost for pick in BarPick.objects.select_related("bar"))
    assert paid + float(StockBar.objects.get(remnant=True).price) == pytest.approx(100)


def test_a_remnant_that_others_count_on_has_to_be_measured(shared, second, lead):
    with pytest.raises(NotPossible, match=f"Job {second.number} has pieces reserved"):
        actions.saw(shared[0], by=lead)
    assert not BarPick.objects.exclude(sawn_at=None).exists()


def test_a_remnant_too_short_ends_the_others_reservation_and_its_history_says_so(shared, second, lead):
    actions.saw(shared[0], by=lead, left=mm("130 mm"))  # two of 65 mm need 132
    second.refresh_from_db()
    assert not BarPick.objects.filter(pk=shared[1].pk).exists()
    assert (second.material_received, kinds(second)[-1]) == (False, "stock_fell_short")


def test_a_remnant_that_is_just_long_enough_needs_no_last_cut(shared, lead):
    actions.saw(shared[0], by=lead, left=mm("132 mm"))
    assert BarPick.objects.filter(pk=shared[1].pk, bar__number="B-09-R1").exists()


# -- the pages


@pytest.fixture
def saw_list(client, lead):
    def load():
        client.force_login(lead)
        return client.get(reverse("jobs:saw_list"))

    return load


def test_an_empty_saw_list_says_what_will_stand_there(saw_list):
    assert "Nothing waits to be sawn" in saw_list().text


def test_the_saw_list_draws_both_jobs_in_one_bar(saw_list, shared, first, second):
    page = saw_list()
    (kind,) = page.context["kinds"]
    (card,) = kind.cards
    fills = [mark.fill for mark in card.marks]
    assert fills == ["stub", *"aaaaaaaa", *"bb", "left"]
    assert [(row.each, str(row.long), row.job) for row in card.rows] == [(8, "65 mm", first), (2, "65 mm", second)]
    assert "rack 2" in page.text and "heat H1" in page.text and "325.00" in page.text


def test_a_printed_saw_list_says_when_it_was_so(saw_list, shared):
    page = saw_list()
    assert page.context["now"].strftime("%Y") in page.text and "As it stood on" in page.text


def test_a_bar_that_was_changed_and_is_too_short_now_says_so(saw_list, shared):
    StockBar.objects.update(length="500 mm")
    assert "do not come out of this bar any more" in saw_list().text


def test_bars_are_noted_as_sawn_from_the_list(client, saw_list, shared):
    saw_list()
    client.post(reverse("jobs:bar_sawn", args=[shared[0].pk]), {"left": "320 mm"})
    assert "Nothing waits to be sawn" in saw_list().text and StockBar.objects.get(remnant=True).on_hand == 1


def test_a_length_typed_wrong_on_the_saw_list_comes_back_beside_its_bar(client, saw_list, shared):
    saw_list()
    answer = client.post(reverse("jobs:bar_sawn", args=[shared[0].pk]), {"left": "long", "place": "shelf 9"})
    assert answer.status_code == 422 and "not a length" in answer.text and 'value="shelf 9"' in answer.text


def test_bars_to_be_bought_stand_below_the_list(saw_list, second, lead):
    StockBar.objects.update(on_hand=0)
    take(second, lead)
    assert "Waits for bars to be bought" in saw_list().text


def test_the_saw_list_asks_the_database_no_more_for_more_jobs(saw_list, shared, lead):
    saw_list()
    with CaptureQueriesContext(connection) as few:
        saw_list()
    take(a_second_job(shared[0].job, lead, part_number="BP-2300"), lead)
    with CaptureQueriesContext(connection) as more:
        saw_list()
    assert len(more) == len(few)


def test_a_jobs_page_of_its_stock_names_who_shares_the_bar(client, lead, shared, first, second):
    client.force_login(lead)
    text = client.get(reverse("jobs:stock", args=[second.pk])).text
    assert "sawn behind the pieces of job" in text and first.number in text and "13.40" in text


def test_blanks_without_a_bar_are_counted_on_the_page(client, lead, shared, second):
    client.force_login(lead)
    Job.objects.filter(pk=second.pk).update(quantity=5)
    assert "3 blanks have no bar" in client.get(reverse("jobs:stock", args=[second.pk])).text


def test_a_job_does_not_close_while_its_bars_are_not_noted_as_sawn(shared, first, lead):
    asked = [condition.met for condition in gates.close_gate(first) if "sawn or given back" in condition.text]
    actions.saw_all(shared[0], by=lead, left=mm("320 mm"))
    assert asked == [False]
    assert not any("sawn or given back" in condition.text for condition in gates.close_gate(first))


# -- laid together


@pytest.fixture
def apart(first, second, lead):
    """Eight blanks in one bar and two in another, though one bar gives them all."""
    take(first, lead)
    a_long_bar(first.material, number="B-10", length="900 mm")
    key = next(choice.key for choice in choices(second) if not choice.rests)
    return [*first.bar_picks.all(), *actions.take_stock(second, key, by=lead)]


def offers():
    return queries.laid_together(queries.saw_rules())


def test_blanks_that_come_out_of_fewer_bars_are_offered_together(apart, first, second):
    (offer,) = offers()
    assert (offer.bars_now, offer.bars_then, offer.saved_mm) == (2, 1, 1000.0)
    assert offer.jobs == [first.number, second.number]


def test_laid_together_the_shorter_bar_holds_both_and_the_other_is_free(apart, lead):
    (offer,) = offers()
    eight, two = actions.lay_together(offer.key, by=lead)
    assert {eight.bar.number, two.bar.number} == {"B-10"} and two.after == eight
    assert sorted((pick.pieces for pick in BarPick.objects.all()), reverse=True) == [8, 2]
    assert offers() == []


def test_both_histories_say_that_they_were_laid_together(apart, first, second, lead):
    actions.lay_together(offers()[0].key, by=lead)
    assert "bars_laid_together" in kinds(first) and "bars_laid_together" in kinds(second)


def test_what_changed_meanwhile_is_not_laid_together(apart, second, lead):
    key = offers()[0].key
    actions.give_back(second, by=lead)
    with pytest.raises(NotPossible, match="changed meanwhile"):
        actions.lay_together(key, by=lead)


@pytest.mark.parametrize("changes", [{"heat_number": "H2"}, {"owner": "Brookside Pumps"}, {"thickness": "21 mm"}])
def test_bars_of_another_heat_owner_or_section_are_not_laid_together(apart, changes):
    StockBar.objects.filter(number="B-10").update(**changes)
    assert offers() == []


def test_a_job_whose_plan_is_approved_keeps_its_bars(apart, first, lead):
    PlanApproval.objects.create(job=first, plan_hash="0" * 64, approved_by=lead)
    assert offers() == []


def test_the_saw_list_lays_them_together_at_a_press(client, saw_list, apart):
    page = saw_list()
    assert "come out of 1 instead of 2 bars" in page.text
    client.post(reverse("jobs:lay_together"), {"key": page.context["together"][0].key})
    assert "instead of" not in saw_list().text


def test_of_a_plate_whole_strips_are_counted_as_used():
    sizes = {"thickness": mm("20 mm"), "width": mm("200 mm"), "length": mm("1000 mm")}
    plate = StockBar(shape=StockBar.Shape.PLATE, **sizes)
    blank = {"blank_x": mm("100 mm"), "blank_y": mm("60 mm"), "blank_z": mm("20 mm")}
    pick = BarPick(bar=plate, bars=1, pieces=7, along=0, thick=2, **blank)
    cuts = queries.cuts_of(pick, 2.0)  # three lie across 200: 3 × 60 + 2 × 2, so that seven need three strips
    assert (cuts.piece_mm, cuts.count) == (100.0, 3)
