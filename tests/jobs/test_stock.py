"""Picking bars for a job, sawing them, what the customer supplies and approves."""

import pytest
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.jobs import actions, queries
from shopflow.jobs.models import BarPick, Job
from shopflow.jobs.queries.stock import free_bars
from shopflow.people.models import Role
from shopflow.shop.models import StockBar
from shopflow.workflow import gates
from tests.jobs.objects import a_job, a_material, a_planned_job, a_rack
from tests.people_fixtures import make_person


@pytest.fixture
def lead(db):
    return make_person("the_owner", "lead", "programmer")


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    job = a_planned_job(make_person("the_planner", Role.LEAD, Role.PROGRAMMER))
    a_rack(job.material)
    return job.pk


@pytest.fixture
def job(made_once, db):
    return Job.objects.get(pk=made_once)


def choices(job):
    return queries.stock_choices(job, queries.proposal_of(job))


def take(job, by):
    return actions.take_stock(job, choices(job)[0].key, by=by)


def bar(number):
    return StockBar.objects.get(number=number)


def test_bars_that_are_picked_are_reserved_against_other_jobs(job, lead):
    take(job, lead)
    second = a_job(lead, part_number="BP-2", material=job.material)
    free = {row.number: count for row, count in free_bars(second)}
    assert free == {"B-01": 0, "B-02": 0}


def test_picking_again_replaces_what_was_reserved(job, lead):
    take(job, lead)
    count = job.bar_picks.count()
    take(job, lead)
    assert job.bar_picks.count() == count


def test_the_first_setup_begins_with_the_blank_that_comes_off_the_bar(job, lead):
    take(job, lead)
    first = job.setups.get(number=1)
    assert (str(first.blank_y), str(first.blank_z)) == ("50 mm", "20 mm") and "flat bar" in first.stock_in


def test_the_saw_is_told_what_to_saw_from_which_bar_and_where_it_stands(job, lead):
    take(job, lead)
    told = job.steps.get(kind="saw").instructions
    assert (
        "8 blanks, 65 mm long, from 1 × B-01 flat bar" in told and "heat H1; rack 1; keep what is left, 59 mm" in told
    )


def test_instructions_that_a_person_wrote_for_the_saw_stay(job, lead):
    actions.change_step(job.steps.get(kind="saw"), by=lead, instructions="use the cold saw")
    take(job, lead)
    assert job.steps.get(kind="saw").instructions == "use the cold saw"


def test_a_blank_that_a_person_typed_stays(job, lead):
    first = job.setups.get(number=1)
    actions.change_setup(first, by=lead, blank_z=first._meta.get_field("blank_z").to_python("33 mm"))
    take(job, lead)
    assert str(job.setups.get(number=1).blank_z) == "33 mm"


def test_sawn_bars_leave_the_rack_and_the_remnant_goes_back(job, lead):
    take(job, lead)
    pick = job.bar_picks.filter(bar__number="B-01").get()
    length = pick._meta.get_field("left").to_python("210 mm")
    actions.saw(pick, by=lead, left=length, place="shelf 4")
    remnant = StockBar.objects.get(remnant=True, number__startswith="B-01")
    assert (bar("B-01").on_hand, str(remnant.length), remnant.heat_number, remnant.place, remnant.on_hand) == (
        0, "210 mm", "H1", "shelf 4", 1,
    )  # fmt: skip


def test_bars_are_sawn_once(job, lead):
    pick = take(job, lead)[0]
    actions.saw(pick, by=lead)
    with pytest.raises(NotPossible, match="sawn already"):
        actions.saw(pick, by=lead)


def test_a_rack_that_does_not_have_the_bars_refuses_the_saw(job, lead):
    pick = take(job, lead)[0]
    StockBar.objects.update(on_hand=0)
    with pytest.raises(NotPossible, match="Count the rack"):
        actions.saw(pick, by=lead)
    assert not BarPick.objects.get(pk=pick.pk).is_sawn


def test_what_is_left_cannot_be_as_long_as_the_bar(job, lead):
    pick = take(job, lead)[0]
    with pytest.raises(NotPossible, match="as long as the bar"):
        actions.saw(pick, by=lead, left=pick.bar.length)


def test_bars_of_two_heats_are_counted_apart_and_both_noted(job, lead):
    take(job, lead)
    job.refresh_from_db()
    heats = queries.heats_of(queries.picks_of(job))
    assert set(heats) == {"H1", "H2"} and sum(heats.values()) == job.quantity
    assert job.material_received and set(job.heat_number.split(", ")) == {"H1", "H2"}


def test_a_heat_number_that_a_person_typed_stays(job, lead):
    actions.receive_material(job, by=lead, heat_number="K77")
    take(job, lead)
    job.refresh_from_db()
    assert job.heat_number == "K77"


def test_material_is_received_only_when_every_bar_is_here(job, lead):
    StockBar.objects.filter(number="B-02").delete()
    take(job, lead)
    job.refresh_from_db()
    assert not job.material_received
    to_buy = job.bar_picks.get(to_buy=True)
    actions.receive_bars(to_buy, by=lead, heat_number="H9", place="floor")
    job.refresh_from_db()
    assert job.material_received and job.heat_number == "H1, H9"


def test_an_option_that_is_gone_is_refused(job, lead):
    key = choices(job)[0].key
    StockBar.objects.all().delete()
    with pytest.raises(NotPossible, match="changed meanwhile"):
        actions.take_stock(job, key, by=lead)


def test_bars_of_another_customer_are_not_offered(job):
    StockBar.objects.update(owner="Somebody Else")
    assert choices(job) == []


# -- supplied by the customer


def release_reasons(job):
    return [condition.text for condition in gates.release_gate(job) if not condition.met]


def test_supplied_blanks_that_are_too_few_keep_the_job_from_the_floor(job, lead):
    actions.supply_blanks(job, by=lead, is_supplied=True)
    actions.count_in(job, job.quantity - 1, by=lead)
    assert any("counted in" in text for text in release_reasons(job))


def test_supplied_blanks_all_counted_in_are_the_material(job, lead):
    actions.supply_blanks(job, by=lead, is_supplied=True)
    actions.count_in(job, job.quantity, by=lead)
    job.refresh_from_db()
    assert not any("counted in" in text for text in release_reasons(job)) and job.material_received


def test_a_job_closes_only_after_the_customers_drops_went_back(job, lead):
    actions.supply_blanks(job, by=lead, is_supplied=True)
    asked = [c.met for c in gates.close_gate(job) if "went back" in c.text]
    actions.return_drops(job, by=lead, drops="3 ends with the parts", returned=3)
    assert asked + [c.met for c in gates.close_gate(job) if "went back" in c.text] == [False, True]


# -- bars of the customer


def owned(job, **changes):
    given = {"number": "C-01", "owner": job.customer.name, "material": job.material, "shape": "flat bar"}
    sizes = {"thickness": "20 mm", "width": "50 mm", "length": "600 mm", "on_hand": 1}
    return StockBar.objects.create(**{**given, **sizes, **changes})


def offered(job):
    return [bar.number for bar, _free in free_bars(job)]


def not_offered(job):
    choices = queries.stock_choices(job, queries.proposal_of(job))
    return [(one.row.number, one.why) for one in queries.customers_bars_not_offered(job, choices)]


def test_a_bar_of_the_customers_is_offered_whatever_the_capitals(job):
    owned(job, owner=f"  {job.customer.name.upper()} ")
    assert "C-01" in offered(job)


def test_a_bar_sent_for_this_job_is_offered_and_one_for_another_is_not(job):
    owned(job, for_job=job.number)
    owned(job, number="C-02", for_job="25-0099")
    assert "C-01" in offered(job) and "C-02" not in offered(job)
    assert not_offered(job) == [("C-02", "it was sent for job 25-0099")]


def test_a_bar_of_the_customers_of_other_material_is_named_with_why(job):
    owned(job, material=a_material(name="brass", density=8500))
    assert not_offered(job) == [("C-01", "it is brass: ask the customer whether it may be used")]


def test_a_bar_of_the_customers_whose_section_does_not_do_is_named(job):
    owned(job, thickness="5 mm", width="10 mm")
    assert not_offered(job) == [("C-01", "its section does not give the blank")]


def test_a_bar_of_another_customers_is_neither_offered_nor_named(job):
    owned(job, owner="Somebody Else")
    assert "C-01" not in offered(job) and not_offered(job) == []


def test_bars_keep_their_owner_when_the_customer_is_renamed(job, lead):
    bar = owned(job)
    actions.change_customer(job.customer, by=lead, name="Brookside Pumps & Valves", address="")
    bar.refresh_from_db()
    assert bar.owner == "Brookside Pumps & Valves"


def test_a_job_closes_only_after_the_bars_sent_for_it_went_back(job):
    bar = owned(job, for_job=job.number)
    held = [c for c in gates.close_gate(job) if "bar went back" in c.text]
    assert [c.met for c in held] == [False] and held[0].mend == reverse("shop:rack_row", args=[bar.pk])


def test_what_went_back_is_counted(job, lead):
    actions.supply_blanks(job, by=lead, is_supplied=True)
    assert actions.return_drops(job, by=lead, drops="2 blanks, 1 end", returned=3).returned == 3


# -- other material or size


def asked(job, lead, **fields):
    other = a_material(name="aluminium 2024", density=2780)
    return actions.ask_substitution(job, by=lead, text="6061 is out. May we use 2024?", material=other, **fields)


def test_an_open_substitution_holds_the_plan(job, lead):
    asked(job, lead)
    assert any("question" in condition.text and not condition.met for condition in gates.plan_gate(job))


def test_an_approved_material_becomes_the_jobs(job, lead):
    actions.answer_question(asked(job, lead), by=lead, answer="Yes, by mail of 3 May", approved=True)
    job.refresh_from_db()
    assert str(job.material) == "aluminium 2024"


def test_a_refused_material_changes_nothing(job, lead):
    actions.answer_question(asked(job, lead), by=lead, answer="No", approved=False)
    job.refresh_from_db()
    assert str(job.material) == "aluminium 6061"


def test_a_substitution_is_answered_with_yes_or_no(job, lead):
    with pytest.raises(NotPossible, match="approved it or not"):
        actions.answer_question(asked(job, lead), by=lead, answer="perhaps")


# -- the page


def page(client, lead, job, **answer):
    client.force_login(lead)
    return client.get(reverse("jobs:stock", args=[job.pk]))


def test_the_page_ranks_what_the_blanks_could_come_from(client, lead, job):
    text = page(client, lead, job).content.decode()
    assert "B-01" in text and "needs 2 heats" in text and 'name="key"' in text


def test_a_job_without_material_says_so(client, lead, job):
    assert "does not say the material" in page(client, lead, a_job(lead)).content.decode()


def test_a_remnant_typed_wrong_is_refused_beside_its_bar(client, lead, job):
    pick = take(job, lead)[0]
    client.force_login(lead)
    answer = client.post(reverse("jobs:pick_sawn", args=[pick.pk]), {"left": "long"})
    assert answer.status_code == 422 and "not a length" in answer.content.decode()


def test_the_customers_yes_to_other_material_is_taken_from_the_page(client, lead, job):
    question = asked(job, lead)
    client.force_login(lead)
    client.post(reverse("jobs:answer", args=[job.pk, question.pk]), {"answer": "yes, by mail", "approved": "true"})
    job.refresh_from_db()
    assert str(job.material) == "aluminium 2024"


def test_an_answer_without_yes_or_no_is_refused_on_the_page(client, lead, job):
    question = asked(job, lead)
    client.force_login(lead)
    answer = client.post(reverse("jobs:answer", args=[job.pk, question.pk]), {"answer": "perhaps"}, follow=True)
    question.refresh_from_db()
    assert question.is_open and "approved it or not" in answer.content.decode()
