"""A setup as those read it who may not change it: in groups, by names, without what nobody said."""

import pytest
from django.urls import reverse

from shopflow.jobs.forms.plan import SetupForm
from shopflow.jobs.models import Job
from shopflow.jobs.setup_facts import GROUPS, setup_facts
from shopflow.people.models import Role
from tests.jobs.objects import a_planned_job
from tests.people_fixtures import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    return a_planned_job(make_person("the_planner", Role.PROGRAMMER)).pk


@pytest.fixture
def first(made_once, db):
    return Job.objects.get(pk=made_once).setups.get(up="+Z")


def facts(setup):
    return {label: value for _, said in setup_facts(SetupForm(setup=setup, unit="mm"), setup) for label, value in said}


def test_every_field_of_the_form_stands_under_a_heading_but_those_that_only_help_to_type(first):
    shown = {name for _, names in GROUPS for name in names.split()}
    helping = {"place", "height", "tilt_x", "tilt_y", "turn_z", "seen", "last_change"}
    assert set(SetupForm(setup=first, unit="mm").fields) - shown <= helping


def test_what_nobody_said_is_left_out(first):
    first.datums = ""
    assert "Datums of the print" not in facts(first)
    first.datums = "A, B"
    assert facts(first)["Datums of the print"] == "A, B"


def test_what_is_chosen_is_told_by_its_name(first):
    first.held_by = "vise"
    assert facts(first)["Held by"] == "a vise"


def test_a_viewer_sees_the_headings(client, first):
    client.force_login(make_person("a_viewer", Role.VIEWER))
    page = client.get(reverse("jobs:setup", args=[first.pk])).content.decode()
    assert "<h3>How it is held</h3>" in page and '<form class="form" method="post" novalidate>' not in page
