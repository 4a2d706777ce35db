"""Pages about a job's programs take as many queries for two programs as for five, however they follow one another."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.jobs.models import Job, Stage
from shopflow.programs.models import ProgramRevision
from tests.jobs.objects import read_now
from tests.programs.objects import GOOD, a_planned_job, everyone_at_once, upload

pytestmark = pytest.mark.django_db

FEW, ALL = 2, 5


@pytest.fixture
def owner(lead):
    return everyone_at_once(lead)


@pytest.fixture
def job(owner):
    """At its review; what each program leaves is what the next one starts from. One setup more than get a program."""
    job = read_now(a_planned_job(owner, setups=ALL + 1, same_offset=True), owner)
    Job.objects.filter(pk=job.pk).update(stage=Stage.REVIEW)
    return job


def send_in(job, numbers, *, by):
    """A reviewed program for each of these setups."""
    for number in numbers:
        setups = [job.setups.get(number=number)]
        upload(job, GOOD, by=by, name=f"100{number}", setups=setups)


def asked(call):
    """How many queries it takes, the second time."""
    call()
    with CaptureQueriesContext(connection) as queries:
        call()
    return len(queries)


@pytest.mark.parametrize("page", ["programs:list", "programs:sign_off_all", "workflow:job", "workflow:gate"])
def test_a_page_takes_the_same_queries_for_two_programs_and_for_five(client, job, owner, page):
    client.force_login(owner)
    where = reverse(page, args=[job.pk])
    send_in(job, range(1, FEW + 1), by=owner)
    few = asked(lambda: client.get(where))
    send_in(job, range(FEW + 1, ALL + 1), by=owner)
    assert asked(lambda: client.get(where)) == few


def newest(page):
    return reverse(page, args=[ProgramRevision.objects.latest("pk").pk])


def test_the_last_program_s_page_takes_the_same_queries_behind_one_other_and_behind_four(client, job, owner):
    client.force_login(owner)
    send_in(job, range(1, FEW + 1), by=owner)
    few = asked(lambda: client.get(newest("programs:revision")))
    send_in(job, range(FEW + 1, ALL + 1), by=owner)
    assert asked(lambda: client.get(newest("programs:revision"))) == few


def test_a_setup_file_takes_one_query_more_for_each_file_in_it_whether_that_was_withdrawn(client, job, owner):
    client.force_login(owner)
    send_in(job, range(1, FEW + 1), by=owner)
    few = asked(lambda: client.get(newest("programs:setup_file")))
    send_in(job, range(FEW + 1, ALL + 1), by=owner)
    assert asked(lambda: client.get(newest("programs:setup_file"))) == few + ALL - FEW
