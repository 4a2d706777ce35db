"""Balloons on the views: placed by a click or in numbers."""

import pytest
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.jobs import actions, queries
from shopflow.jobs.models import Characteristic
from tests.jobs.objects import a_job

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(programmer):
    job = a_job(programmer)
    for number in (1, 2):
        Characteristic.objects.create(job=job, number=number, name=f"size {number}")
    return job


def sent(client, user, job, **fields):
    client.force_login(user)
    balloon = job.characteristics.get(number=1).pk
    return client.post(reverse("jobs:balloons", args=[job.pk]), {"balloon": balloon, **fields})


def test_a_balloon_is_placed_in_numbers(client, programmer, job):
    sent(client, programmer, job, view="top", across="25", down="50")
    row = job.characteristics.get(number=1)
    assert (row.view, row.across, row.down) == ("top", 0.25, 0.5)


def test_the_next_balloon_without_a_place_is_chosen_after(client, programmer, job):
    answer = sent(client, programmer, job, view="top", across="25", down="50")
    assert answer.url.endswith(f"?balloon={job.characteristics.get(number=2).pk}")


def test_a_view_without_a_place_is_refused_with_what_to_type(client, programmer, job):
    answer = sent(client, programmer, job, view="top", across="25")
    assert answer.status_code == 422 and "in percent" in answer.content.decode()


def test_a_balloon_is_taken_off_the_drawing(client, programmer, job):
    sent(client, programmer, job, view="top", across="25", down="50")
    sent(client, programmer, job, view="")
    assert job.characteristics.get(number=1).across is None


def test_a_key_press_on_the_drawing_moves_no_balloon(client, programmer, job):
    sent(client, programmer, job, view="top", across="25", down="50")
    answer = sent(client, programmer, job, **{"at.x": "0", "at.y": "0"})
    assert answer.status_code == 422 and job.characteristics.get(number=1).view == "top"


def test_a_place_outside_the_view_is_refused(programmer, job):
    with pytest.raises(NotPossible, match="0 to 100"):
        actions.place_balloon(job.characteristics.first(), by=programmer, view="top", across=1.2, down=0.5)


def test_placing_a_balloon_leaves_the_plan_approved(programmer, job):
    before = queries.plan_hash(job)
    actions.place_balloon(job.characteristics.first(), by=programmer, view="top", across=0.2, down=0.5)
    assert queries.plan_hash(job) == before


def test_a_job_without_characteristics_says_what_to_do_first(client, programmer):
    client.force_login(programmer)
    text = client.get(reverse("jobs:balloons", args=[a_job(programmer).pk])).content.decode()
    assert "Nothing is on the list yet" in text
