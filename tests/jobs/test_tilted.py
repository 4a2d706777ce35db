"""Tilted clampings in the plan of a job: laid out as rows, bent by people, proposed again without losing that."""

import math
from decimal import Decimal

import pytest
from django.urls import reverse

from shopflow.jobs import actions, queries
from shopflow.jobs.models import Job, Setup, Step
from shopflow.people.models import Role
from shopflow.shop.actions import change_house_rule
from tests.core.planning.parts import a_hole, a_reading
from tests.jobs.objects import a_crib, a_machine, a_read_job, a_tool
from tests.people_fixtures import make_person

pytestmark = pytest.mark.django_db

WAY = (0.5, 0.0, math.sqrt(0.75))
"""Thirty degrees from +Z."""


def slanted(way=WAY, **changes):
    given = {
        "axis": way, "reach": (way,), "through": False, "bottom": "pointed", "depth_mm": 10.0,
        "position_mm": (30.0, 20.0, 20.0),
    }  # fmt: skip
    return a_hole(**{**given, **changes})


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    a_machine()
    a_crib()
    planner = make_person("the_planner", Role.PROGRAMMER, Role.LEAD)
    job = a_read_job(planner, a_reading(size=(60.0, 40.0, 20.0), holes=[a_hole(), slanted()]))
    actions.propose_plan(job, by=planner)
    return job.pk, planner


@pytest.fixture
def job(made_once, db):
    return Job.objects.get(pk=made_once[0])


@pytest.fixture
def planner(made_once):
    return made_once[1]


@pytest.fixture
def setup(job):
    return job.setups.get(slant__gt="")


def again(job, planner):
    actions.propose_plan(job, by=planner)
    return list(job.setups.order_by("number"))


def test_the_tilted_clamping_is_a_row_with_its_angles_after_the_straight_ones(job, setup):
    assert [row.up for row in job.setups.order_by("number")] == ["+Z", "-Z", "+Z"]
    assert setup.number == 3 and setup.work_offset_code == "G56"
    assert setup.angles == (0.0, -30.0, 0.0) and setup.orientation == "+Z up, tilted \u221230° about Y"
    assert queries.looks_up(setup) == pytest.approx(WAY)
    assert setup.zero is not None and setup.setup_tools.exists()


def test_its_step_stands_before_deburring(job):
    kinds = [(step.kind, step.setup.number if step.setup else None) for step in job.steps.order_by("op_number")]
    assert kinds[:5] == [("saw", None), ("mill", 1), ("mill", 2), ("mill", 3), ("deburr", None)]


def test_proposed_again_it_stays_the_same_row(job, planner, setup):
    assert [row.pk for row in again(job, planner)] == [row.pk for row in job.setups.order_by("number")]
    assert job.setups.get(slant__gt="").pk == setup.pk


def test_what_a_person_typed_about_it_stays_and_the_straight_one_keeps_its_own(job, planner, setup):
    actions.change_setup(setup, by=planner, workholding="my own angle block")
    rows = again(job, planner)
    assert rows[2].workholding == "my own angle block"
    assert rows[0].workholding.startswith("vise on parallels")


def test_an_angle_that_a_person_typed_stays_with_all_that_follows_from_it(job, planner, setup):
    held = setup.workholding
    actions.change_setup(setup, by=planner, tilt_y=Decimal("-32.5"), zero_x=setup.zero_x)
    rows = again(job, planner)
    assert len(rows) == 3 and rows[2].pk == setup.pk
    assert rows[2].angles == (0.0, -32.5, 0.0) and rows[2].workholding == held


def test_fields_that_are_released_stand_as_proposed_again(job, planner, setup):
    actions.change_setup(setup, by=planner, tilt_y=Decimal("-32.5"))
    actions.release_fields(setup, by=planner)
    assert again(job, planner)[2].angles == (0.0, -30.0, 0.0)


def test_a_tilted_setup_that_was_taken_out_stays_out_and_the_straight_one_stays(job, planner, setup):
    actions.remove_setup(setup, by=planner)
    assert [row.up for row in again(job, planner)] == ["+Z", "-Z"]
    assert queries.left_out_words(Job.objects.get(pk=job.pk)) == ["the setup with 0.500,0.000,0.866 up"]


def test_a_straight_setup_that_was_taken_out_leaves_the_tilted_one(job, planner, setup):
    actions.remove_setup(job.setups.get(number=1), by=planner)
    rows = again(job, planner)
    assert [(row.up, bool(row.slant)) for row in rows] == [("-Z", False), ("+Z", True)]


def test_a_setup_that_a_person_tilted_the_same_way_is_taken_for_it(made_once, planner):
    job = a_read_job(planner, a_reading(size=(60.0, 40.0, 20.0), holes=[a_hole(), slanted()]))
    own = actions.add_setup(job, by=planner)
    actions.change_setup(own, by=planner, up="+Z", along_x="+X", tilt_y=Decimal(-30), title="on my sine table")
    rows = again(job, planner)
    assert len(rows) == 3
    assert (rows[2].pk, rows[2].title, bool(rows[2].slant)) == (own.pk, "on my sine table", True)


def test_tools_that_a_person_picked_for_it_are_its_own_only(job, planner, setup):
    wide = a_tool(90, "wide mill", "flat end mill", "6.5")
    actions.add_tool(setup, by=planner, tool=wide)
    rows = again(job, planner)
    assert wide.pk in rows[2].setup_tools.values_list("tool", flat=True)
    assert wide.pk not in rows[0].setup_tools.values_list("tool", flat=True)


def test_an_operation_taken_out_of_the_tilted_clamping_stays_in_the_straight_one(job, planner, setup):
    drill = setup.operations.get(kind="drill")
    actions.remove_operation(drill, by=planner)
    rows = again(job, planner)
    assert not rows[2].operations.filter(kind="drill").exists()
    assert rows[0].operations.filter(kind="drill").exists()


def test_the_house_rule_takes_untouched_tilted_setups_away(job, planner, setup):
    change_house_rule("plan_tilted", text="0", by=planner, reason="no sine bar here")
    assert [row.up for row in again(job, planner)] == ["+Z", "-Z"]
    assert not Step.objects.filter(setup=setup.pk).exists()


def test_a_repeat_order_s_copy_knows_its_tilted_clamping(job, planner, setup):
    order = {"revision": job.revision}
    later = a_read_job(planner, a_reading(size=(60.0, 40.0, 20.0), holes=[a_hole(), slanted()]), **order)
    actions.copy_plan(later, job, by=planner)
    assert Setup.objects.get(job=later, slant=setup.slant).number == 3
    assert len(again(later, planner)) == 3


def test_cautions_are_said_of_the_setup_s_own_number(job):
    proposal = queries.proposal_of(job)
    notes = queries.setup_notes(proposal, queries.setups_of(job))
    assert any(note.startswith("Setup 3 is held aslant (right end up 30°)") for note in notes)


def test_the_page_names_what_no_setup_reaches_and_says_so_where_the_plan_is_approved(client, job, planner):
    change_house_rule("plan_tilted", text="0", by=planner, reason="no sine bar here")
    again(job, planner)
    client.force_login(planner)
    page = client.get(reverse("jobs:plan", args=[job.pk])).content.decode()
    assert "30.0° from +Z up" in page and "A house rule says that plans tilt no part" in page
    assert "1 feature of the model is out of reach of every proposed setup" in page


def test_a_plan_that_reaches_everything_says_nothing_of_it(client, job, planner):
    client.force_login(planner)
    page = client.get(reverse("jobs:plan", args=[job.pk])).content.decode()
    assert "out of reach" not in page and "Setup 3 is held aslant" in page
