"""Where the minutes of a plan come from: workholding, edges left to hands, samples, and what lots took."""

from decimal import Decimal

import pytest
from django.urls import reverse

from shopflow.core import planning
from shopflow.core.review import house_rules
from shopflow.jobs import actions, queries
from shopflow.jobs.actions import CharacteristicLine
from shopflow.jobs.models import Job, Operation, SetUpTaken, Stage, Step, TimeTaken
from shopflow.jobs.queries.habits import MINUTES
from shopflow.people.models import Role
from shopflow.shop import actions as shop
from shopflow.shop.models import Fixture
from tests.jobs.objects import a_job, a_planned_job
from tests.people_fixtures import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    return a_planned_job(make_person("the_planner", Role.LEAD, Role.PROGRAMMER)).pk


@pytest.fixture
def planned(made_once, db):
    return Job.objects.get(pk=made_once)


def first_setup(job):
    return queries.setups_of(Job.objects.get(pk=job.pk))[0]


def step(job, kind):
    return Step.objects.filter(job=job, kind=kind).first()


def jaws(**changes):
    return Fixture.objects.create(number="SJ-07", name="jaws", **{"recuts_left": 3, **changes})


def what(job):
    return [part.what for part in queries.setting_up_of(first_setup(job), queries.plan_rules())]


def test_soft_jaws_named_for_a_setup_add_to_its_minutes(planned, programmer):
    before = step(planned, "mill").minutes_setup
    actions.change_setup(first_setup(planned), by=programmer, fixture=jaws())
    assert step(planned, "mill").minutes_setup == before + Decimal(20)  # 5 to mount them, 15 to cut them


def test_jaws_that_held_an_earlier_order_are_cut_again(planned, programmer):
    fixture = jaws()
    earlier = a_job(programmer, part_number="BP-1141")
    setup = actions.add_setup(earlier, by=programmer)
    actions.change_setup(setup, by=programmer, fixture=fixture)
    Job.objects.filter(pk=earlier.pk).update(stage=Stage.CLOSED)
    actions.change_setup(first_setup(planned), by=programmer, fixture=fixture)
    assert "re-cut the jaws" in what(planned)


def test_jaws_that_cannot_be_cut_again_are_cut_new(planned, programmer):
    actions.change_setup(first_setup(planned), by=programmer, fixture=jaws(recuts_left=0))
    assert "cut new jaws" in what(planned)


def test_a_fixture_is_mounted_in_place_of_the_vise(planned, programmer):
    actions.change_setup(first_setup(planned), by=programmer, fixture=jaws(kind="fixture"))
    assert what(planned)[:2] == ["table cleared", "fixture mounted and indicated"]


def test_minutes_to_set_up_that_a_person_typed_stay(planned, programmer):
    actions.change_step(step(planned, "mill"), by=programmer, minutes_setup=Decimal(99))
    actions.change_setup(first_setup(planned), by=programmer, fixture=jaws())
    assert step(planned, "mill").minutes_setup == 99


def test_the_parts_of_setting_up_add_up_to_what_the_step_says(planned):
    parts = queries.setting_up_of(first_setup(planned), queries.plan_rules())
    assert float(step(planned, "mill").minutes_setup) == pytest.approx(sum(part.minutes for part in parts))


def test_edges_that_the_machine_no_longer_breaks_are_deburred_by_hand(planned, programmer):
    before = step(planned, "deburr").minutes_each
    row = Operation.objects.filter(setup__job=planned, kind="break edges").first()
    actions.remove_operation(row, by=programmer)
    more = Decimal(str(row.facts["length_mm"] / 600)).quantize(Decimal("0.01"))
    assert step(planned, "deburr").minutes_each == pytest.approx(before + more, abs=Decimal("0.01"))


@pytest.mark.parametrize(("sampling", "each"), [("first", "1.04"), ("all", "1.50"), ("1 in 2", "1.25")])
def test_inspection_follows_from_the_characteristics_and_their_samples(planned, programmer, sampling, each):
    """Twelve pieces: one in hand takes 1 minute, a measurement half a minute."""
    actions.save_characteristics(planned, [CharacteristicLine("width", sampling=sampling)], by=programmer)
    assert step(planned, "inspect").minutes_each == Decimal(each)


def test_the_plan_page_says_where_its_minutes_come_from(client, planned, viewer):
    client.force_login(viewer)
    page = client.get(reverse("jobs:plan", args=[planned.pk])).text
    assert "vise set and indicated" in page and "mm of sharp edges by hand" in page and "measurements a piece" in page


def test_the_plan_page_names_what_lots_took_with_its_spread(client, planned, viewer):
    setup = first_setup(planned)
    taken = {"machine": setup.machine, "group": "aluminium", "pieces": 10, "planned": 10, "actual": 20}
    TimeTaken.objects.create(step=setup.step, lot=1, **taken)
    client.force_login(viewer)
    ratio = queries.ratio_of(setup)
    page = client.get(reverse("jobs:plan", args=[planned.pk])).text
    assert f"took, spread {ratio.low:.2f} to {ratio.high:.2f}" in page and f"× {ratio.ratio:.2f}" in page


def set_up_took(job, *actual, held="vise"):
    for lot, minutes in enumerate(actual):
        SetUpTaken.objects.create(step=first_setup(job).step, lot=lot, held=held, planned=20, actual=minutes)


def test_the_plan_page_names_what_set_ups_took_with_their_spread(client, planned, viewer):
    set_up_took(planned, 40, 30)
    client.force_login(viewer)
    ratio = queries.set_up_ratio_of(first_setup(planned))
    page = client.get(reverse("jobs:plan", args=[planned.pk])).text
    assert f"set-ups in such workholding took, spread {ratio.low:.2f} to {ratio.high:.2f}" in page
    assert f"× {ratio.ratio:.2f}" in page


def test_the_setup_s_page_says_how_its_minutes_to_set_up_are_corrected(client, planned, viewer):
    set_up_took(planned, 40, 30)
    client.force_login(viewer)
    ratio = queries.set_up_ratio_of(first_setup(planned))
    page = client.get(reverse("jobs:setup", args=[planned.setups.first().pk])).text
    assert f"planned times {ratio.ratio:.2f}" in page and "2 set-ups took (vise)" in page


def test_a_new_proposal_sets_up_as_long_as_such_set_ups_took(planned, lead):
    before = float(step(planned, "mill").minutes_setup)
    set_up_took(planned, 80, 80, 80)
    actions.propose_plan(planned, by=lead)
    ratio = queries.set_up_ratio_of(first_setup(planned)).ratio
    assert ratio > 2 and float(step(planned, "mill").minutes_setup) == pytest.approx(before * ratio, abs=0.01)


def test_set_ups_in_clamps_say_nothing_of_one_in_a_vise(planned, lead):
    before = step(planned, "mill").minutes_setup
    set_up_took(planned, 80, 80, 80, held="clamps")
    actions.propose_plan(planned, by=lead)
    assert step(planned, "mill").minutes_setup == before


def test_a_setup_that_is_changed_counts_with_the_correction_of_its_workholding(planned, lead):
    set_up_took(planned, 80, 80, 80, held="soft jaws")
    plain = float(step(planned, "mill").minutes_setup) + 20
    actions.change_setup(first_setup(planned), by=lead, fixture=jaws())
    ratio = queries.set_up_ratio_of(first_setup(planned)).ratio
    assert float(step(planned, "mill").minutes_setup) == pytest.approx(plain * ratio, abs=0.01)


def rule(key, text, lead):
    shop.change_house_rule(key, text=text, reason="timed on three jobs", by=lead)


@pytest.mark.parametrize("key", sorted(MINUTES))
def test_every_habit_of_minutes_stands_at_the_default_of_the_core(key):
    assert float(house_rules.HouseRules().value(key)) == getattr(planning.PlanRules(), MINUTES[key])


@pytest.mark.parametrize("key", sorted(MINUTES))
def test_a_habit_that_the_shop_set_reaches_the_plan(db, lead, key):
    rule(key, "7.5", lead)
    assert getattr(queries.plan_rules(), MINUTES[key]) == 7.5


def test_the_next_proposal_counts_with_the_shop_s_own_minutes(planned, lead):
    before = step(planned, "mill").minutes_setup
    rule("minutes_vise", "8", lead)
    actions.propose_plan(planned, by=lead)
    assert step(planned, "mill").minutes_setup == before - 12


def overtaken(job):
    setups = queries.setups_of(job)
    return [row.step.kind for row in queries.breakdown_of(job, queries.steps_of(job), setups) if row.is_overtaken]


def test_a_fresh_plan_counts_with_the_parts_that_are_shown(planned):
    assert overtaken(planned) == []


def test_a_plan_from_before_a_habit_changed_says_so(planned, lead):
    rule("minutes_deburr", "2", lead)
    assert overtaken(planned) == ["deburr"]


def test_minutes_that_a_person_typed_are_not_overtaken(planned, lead):
    actions.change_step(step(planned, "deburr"), by=lead, minutes_each=Decimal(3))
    rule("minutes_deburr", "2", lead)
    assert overtaken(planned) == []


def test_a_plan_from_before_set_ups_took_longer_says_so_until_it_is_proposed_again(planned, lead):
    set_up_took(planned, 80, 80, 80)
    before = overtaken(planned)
    actions.propose_plan(planned, by=lead)
    assert ("mill" in before, overtaken(planned)) == (True, [])
