"""What a proposal says about single setups, when a person has changed, moved or taken out some of them."""

from dataclasses import replace

import pytest
from django.urls import reverse

from shopflow.core.planning.proposal import SetupNote
from shopflow.core.planning.related import Apart
from shopflow.jobs import actions, queries
from shopflow.jobs.models import Setup
from tests.core.planning.parts import a_reading
from tests.jobs.objects import a_crib, a_machine, a_planned_job, a_read_job

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(programmer):
    return a_planned_job(programmer)


def proposed(job, **changes):
    return replace(queries.proposal_of(job), **changes)


def notes(job, *setups_noted):
    made = proposed(job, setup_notes=tuple(SetupNote(n, f"note of {n}") for n in setups_noted))
    return queries.setup_notes(made, queries.setups_of(job))


def test_a_note_is_shown_under_the_number_that_the_job_s_setup_has(job):
    Setup.objects.filter(job=job, number=1).update(number=7)
    assert notes(job, 1) == ["Setup 7 note of 1"]


def test_a_setup_that_was_taken_out_is_not_spoken_of(job):
    job.setups.get(number=2).delete()
    assert notes(job, 1, 2) == ["Setup 1 note of 1"]


def test_a_setup_done_by_hand_has_no_notes(job):
    Setup.objects.filter(job=job, number=1).update(manual_reason="filed by hand")
    assert notes(job, 1) == []


def test_a_note_about_how_it_is_held_stays_out_once_a_person_said_how(job, programmer):
    made = proposed(job, setup_notes=(SetupNote(1, "needs soft jaws", ("workholding",)), SetupNote(1, "stands high")))
    actions.change_setup(job.setups.get(number=1), by=programmer, workholding="in the brown fixture")
    assert queries.setup_notes(made, queries.setups_of(job)) == ["Setup 1 stands high"]


def test_what_is_cut_apart_names_the_job_s_own_setups(job):
    Setup.objects.filter(job=job, number=1).update(number=7)
    made = proposed(job, apart=(Apart("position 0.1 to A", (1, 2)),))
    assert queries.cut_apart(made, queries.setups_of(job)) == [("position 0.1 to A", [2, 7])]


def test_what_one_setup_is_left_of_is_not_apart(job):
    job.setups.get(number=2).delete()
    made = proposed(job, apart=(Apart("position 0.1 to A", (1, 2)),))
    assert queries.cut_apart(made, queries.setups_of(job)) == []


@pytest.fixture
def tall(programmer):
    """60 mm high, held by 4: more over the jaws than its grip allows."""
    a_machine()
    a_crib()
    job = a_read_job(programmer, a_reading((60.0, 40.0, 60.0)))
    actions.propose_plan(job, by=programmer)
    return job


def shown(job, programmer, client):
    client.force_login(programmer)
    return client.get(reverse("jobs:plan", args=[job.pk])).content.decode()


def test_a_tall_part_in_a_low_grip_is_told_on_the_page(tall, programmer, client):
    assert "Setup 1 grips 4 mm and stands" in shown(tall, programmer, client)


def test_the_grip_that_a_person_typed_counts(tall, programmer, client):
    actions.change_setup(tall.setups.get(number=1), by=programmer, grip="30 mm")
    assert "Setup 1 grips" not in shown(tall, programmer, client)


def test_each_setup_is_told_what_is_about_it(job):
    made = proposed(job, setup_notes=(SetupNote(1, "stands high"), SetupNote(2, "is thin")))
    rows = queries.setups_of(job)
    assert [queries.notes_about(row, made, rows) for row in rows] == [["stands high"], ["is thin"]]


def test_the_page_of_a_setup_says_what_to_think_about_in_it(tall, programmer, client):
    client.force_login(programmer)
    page = client.get(reverse("jobs:setup", args=[tall.setups.get(number=1).pk])).text
    assert "grips 4 mm and stands" in page
