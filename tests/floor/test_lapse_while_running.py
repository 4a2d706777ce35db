"""A sign-off that lapses while its program runs: the cycle goes on, machinist and lead are told, no new start."""

import pytest
from django.urls import reverse

from shopflow.floor import actions, queries
from shopflow.floor.models import OpRun
from shopflow.jobs.models import Job
from shopflow.people.models import User
from shopflow.shop.models import Tool
from shopflow.workflow.gates import close_gate, unmet
from tests.floor.objects import SETUP_CHECKS, op, passed_on
from tests.people_fixtures import make_person
from tests.workflow.objects import on_floor

WHY = "T1 least stickout was 35 and is 38"


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    """A milling op runs, and the stickout of its tool was changed in the crib since."""
    owner = make_person("the_owner", password="seven brass fittings")
    lot = on_floor(owner, quantity=3).lots.get()
    passed_on(lot, 10, 3, owner)
    run = actions.start(lot, op(lot, 20), by=owner, compared="first lines", confirmed=SETUP_CHECKS)
    Tool.objects.filter(number=1).update(stickout="38 mm")
    return run.pk


@pytest.fixture
def run(made_once, db):
    return OpRun.objects.select_related("lot__job", "step__setup").get(pk=made_once)


@pytest.fixture
def owner(run):
    return User.objects.get(username="the_owner")


def told(run):
    return [condition.reason for condition in unmet(close_gate(Job.objects.get(pk=run.lot.job_id)))]


def test_the_pieces_of_the_cycle_that_runs_are_counted(run, owner):
    assert actions.count_good(run, 1, by=owner)


def test_the_machinist_is_told_at_the_station(client, run, owner):
    client.force_login(owner)
    shown = client.get(reverse("floor:op", args=[run.lot.pk, run.step.pk])).text
    assert (WHY in shown, "Ask the lead before the next one" in shown) == (True, True)


def test_the_lead_is_told_in_what_is_missing(run):
    assert any(f"op 20, lot 1: The sign-off of 1001 no longer holds. {WHY}" in reason for reason in told(run))


def test_once_the_op_is_finished_nothing_runs_on_a_lapsed_sign_off(run, owner):
    actions.finish(run, by=owner)
    assert not any(WHY in reason for reason in told(run))


def test_it_does_not_start_again(run, owner):
    actions.finish(run, by=owner)
    assert WHY in queries.start_problem(run.lot.job, run.step, run.lot)
