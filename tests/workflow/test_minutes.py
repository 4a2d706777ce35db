"""Plan, program and actual minutes of each op, side by side."""

from decimal import Decimal

import pytest

from shopflow.jobs.models import Job, Step, TimeTaken
from shopflow.workflow.minutes import minutes_side_by_side
from tests.people_fixtures import make_person
from tests.programs.objects import a_planned_job, a_program, everyone_at_once, upload

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    return everyone_at_once(make_person("the_owner"))


@pytest.fixture
def job(owner):
    job = a_planned_job(owner)
    for setup in job.setups.all():
        Step.objects.get_or_create(
            job=job, setup=setup, defaults={"op_number": 10 + setup.number, "kind": "mill", "minutes_each": 3}
        )
    return job


def rows(job):
    return minutes_side_by_side(Job.objects.get(pk=job.pk))


def took(job, lot, actual, pieces):
    step = Step.objects.filter(job=job, setup__isnull=False).first()
    TimeTaken.objects.create(
        step=step, lot=lot, machine=step.setup.machine, pieces=pieces, planned=1, actual=Decimal(actual)
    )


def test_every_milled_op_has_its_planned_minutes(job):
    milled = Step.objects.filter(job=job, setup__isnull=False)
    assert [row.plan for row in rows(job)] == [step.minutes_each for step in milled]


def test_a_program_that_was_read_says_how_long_it_runs(job, owner):
    upload(job, a_program(depth=15), by=owner)
    assert rows(job)[0].program > 0


def test_an_op_without_a_program_has_no_minutes_of_one(job):
    assert rows(job)[0].program is None


def test_actual_minutes_are_those_of_all_pieces_of_all_lots(job):
    took(job, 1, "4", 10)
    took(job, 2, "7", 20)
    assert rows(job)[0].actual == pytest.approx(6.0)


def test_actual_is_set_against_the_plan(job):
    Step.objects.filter(job=job, setup__isnull=False).update(minutes_each=Decimal(5))
    took(job, 1, "10", 3)
    assert rows(job)[0].over_plan == pytest.approx(2.0)
