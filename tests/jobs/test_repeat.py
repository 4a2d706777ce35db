"""A new order of a known part copies the plan, and shows what changed since it was approved."""

import datetime as dt

import pytest
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.jobs import actions, queries
from shopflow.jobs.models import BarPick, Job, Operation
from shopflow.records import work
from shopflow.records.models import Work
from shopflow.shop import actions as shop
from shopflow.shop.models import Fixture, Gauge, StockBar, Tool
from tests.core.planning.parts import a_hole, a_reading
from tests.jobs.objects import STEP_HEAD, a_job, a_material, a_planned_job, a_rack, an_upload
from tests.people_fixtures import make_person

TODAY = dt.date(2031, 1, 1)


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    return an_approved_job(make_person("the_owner", "lead", "programmer")).pk


@pytest.fixture
def made(made_once, db):
    return Job.objects.get(pk=made_once)


@pytest.fixture
def lead(made):
    return made.created_by


def an_approved_job(lead):
    """The earlier order, its plan approved, with soft jaws, a stop, an instruction and a balloon."""
    job = a_planned_job(lead)
    first = job.setups.get(number=1)
    jaws = Fixture.objects.create(number="J-07", name="jaws", recuts_left=2)
    actions.change_setup(first, by=lead, fixture=jaws, workholding="soft jaws")
    actions.add_touch(first, by=lead, reason="clear the chips")
    actions.change_step(job.steps.get(kind="deburr"), by=lead, instructions="no file on the bore")
    gauge = Gauge.objects.create(number="M-01", name="micrometer", resolution="0.001 mm", calibrated_until="2032-01-01")
    line = actions.CharacteristicLine(name="bore", step=job.steps.get(kind="inspect"), gauge=gauge, sampling="1 in 5")
    actions.save_characteristics(job, [line], by=lead)
    job.refresh_from_db()
    actions.approve_plan(job, by=lead, seen=queries.plan_hash(job))
    return job


@pytest.fixture
def again(made, lead):
    return a_job(lead, material=made.material)


@pytest.fixture
def copied(again, made, lead):
    return actions.copy_plan(again, made, by=lead)


def said(job):
    job = Job.objects.get(pk=job.pk)
    return [one.what for one in queries.changed_since(job, today=TODAY) if one.what != "no model in this job yet"]


def test_the_copy_says_the_same_as_the_plan_that_was_approved(copied, made):
    names = ("setups", "steps", "characteristics")
    one, other = queries.plan_facts(copied), queries.plan_facts(made)
    assert {name: one[name] for name in names} == {name: other[name] for name in names}


def test_what_a_person_typed_there_stays_typed_here(copied, made):
    typed = made.setups.get(number=1).fixed
    assert typed and copied.setups.get(number=1).fixed == typed


def test_operations_come_along_with_their_tools(copied, made):
    def told(job):
        rows = Operation.objects.filter(setup__job=job).order_by("setup__number", "position")
        return [(row.setup.number, row.kind, row.what, row.tool_id) for row in rows]

    assert told(made) and told(copied) == told(made)


def test_the_earlier_order_keeps_its_plan(copied, made):
    assert made.setups.count() == copied.setups.count() and queries.is_plan_approved(made)


def test_a_plan_that_a_person_worked_on_is_not_copied_over(again, made, lead):
    actions.save_characteristics(again, [actions.CharacteristicLine(name="mine")], by=lead)
    with pytest.raises(NotPossible, match="worked on the plan"):
        actions.copy_plan(again, made, by=lead)


def test_the_plan_of_another_part_is_not_copied(made, lead):
    with pytest.raises(NotPossible, match="another part"):
        actions.copy_plan(a_job(lead, part_number="X-9"), made, by=lead)


def test_nothing_is_said_to_have_changed_right_after(copied):
    assert said(copied) == []


def test_a_job_without_its_model_is_asked_for_it(copied):
    first, *_others = queries.changed_since(Job.objects.get(pk=copied.pk), today=TODAY)
    assert first.what == "no model in this job yet"


def test_a_changed_tool_is_named_with_what_changed(copied, lead):
    tool = Tool.objects.get(number=4)
    tool.stickout = Tool._meta.get_field("stickout").to_python("80 mm")
    shop.save(tool, by=lead)
    assert said(copied) == ["T4 drill: Stickout: 45 mm → 80 mm"]


def test_a_changed_machine_is_named(copied, lead):
    machine = copied.setups.first().machine
    machine.max_rpm = 6000
    shop.save(machine, by=lead)
    assert any("8000 → 6000" in what for what in said(copied))


def test_a_changed_house_rule_is_named_with_its_reason(copied, lead):
    shop.change_house_rule("plan_grip", text="6", reason="parts moved", by=lead)
    assert any("parts moved" in what for what in said(copied))


def test_another_material_and_quantity_are_named(made, lead):
    other = a_job(lead, material=a_material(name="aluminium 2024"), quantity=30)
    what = said(actions.copy_plan(other, made, by=lead))
    assert what == ["material aluminium 6061 → aluminium 2024", "quantity 12 → 30"]


def test_what_is_not_at_hand_any_more_is_named(copied):
    Tool.objects.filter(number=2).update(on_hand=0)
    Fixture.objects.update(recuts_left=0)
    Gauge.objects.update(calibrated_until="2030-01-01")
    assert said(copied) == [
        "T2 end mill: none on hand",
        "J-07 jaws: no re-cut left",
        "M-01 micrometer: out of calibration",
    ]


def test_the_price_of_the_bars_it_was_sawn_from_is_watched(made, again, lead):
    bar = a_rack(made.material)[0]
    Job.objects.filter(pk=made.pk).update(stage="plan")
    made.bar_picks.create(bar=bar, bars=1, pieces=12, along=0, thick=2)
    job = actions.copy_plan(again, made, by=lead)
    bar.price = 140
    shop.save(bar, by=lead)
    assert any("100 → 140" in what for what in said(job))


def test_the_page_offers_the_earlier_order_and_copies_it(client, again, made, lead):
    client.force_login(lead)
    address = reverse("jobs:repeat", args=[again.pk])
    assert made.number in client.get(address).content.decode()
    client.post(address, {"source": made.pk})
    assert Job.objects.get(pk=again.pk).plan_from == made


def test_the_price_of_a_newer_bar_of_the_same_size_is_named(made, again, lead):
    bar = a_rack(made.material)[0]
    BarPick.objects.create(job=made, bar=bar, bars=1, pieces=4, along=0, thick=2, blank_x="60 mm", blank_y="50 mm",
                           blank_z="20 mm")  # fmt: skip
    StockBar.objects.filter(pk=bar.pk).update(price=100)
    StockBar.objects.create(
        number="B-09", material=bar.material, shape=bar.shape, thickness=bar.thickness, width=bar.width,
        length=bar.length, price=120,
    )  # fmt: skip
    actions.copy_plan(again, made, by=lead)
    again.refresh_from_db()
    told = [one.what for one in queries.changed_since(again, today=TODAY)]
    assert any("price 100.00 → 120.00 (B-09)" in what for what in told)


def test_another_model_is_told_by_the_faces_that_differ_and_the_steps_that_cut_them(client, made, again, lead):
    actions.copy_plan(again, made, by=lead)
    moved = a_reading(holes=[a_hole(position_mm=(20.0, 10.0, 0.0))])
    actions.add_file(again, an_upload(STEP_HEAD + b"#9=X();"), by=lead, kind="model")
    again.refresh_from_db()
    Work.objects.filter(pk=again.reading_id).update(state=Work.State.DONE, result=moved.to_json())
    client.force_login(lead)
    url = reverse("jobs:repeat", args=[again.pk])
    assert "being compared" in client.get(url).text
    row = Work.objects.get(kind="compare_models")
    work.run(row.pk, actions.compare_models)
    page = client.get(url).text
    assert "The model is another one" in page and "hole" in page and "?before=" in page
