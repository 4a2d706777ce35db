"""A plan whose blanks are castings, from the file that was sent to the steps that are laid out."""

import pytest
from django.urls import reverse

from shopflow.core.solid import Reading
from shopflow.jobs import actions, queries
from shopflow.jobs.models import Job, JobFile
from shopflow.records.models import Work
from tests.core.planning.parts import a_reading
from tests.jobs.objects import a_planned_job, an_upload

pytestmark = pytest.mark.django_db


@pytest.fixture
def planned(programmer):
    return a_planned_job(programmer)


def a_casting() -> Reading:
    """3 over the top of the plate of a_reading and 2 over each end, without its holes."""
    return a_reading((64.0, 40.0, 15.0), [], box_min_mm=(-2.0, 0.0, 0.0), box_max_mm=(62.0, 40.0, 15.0), planes=())


def send(job, by, name="casting.step", state=Work.State.DONE):
    """The model of a casting, with the reading that a worker would have stored."""
    sent = actions.add_file(job, an_upload(f"ISO-10303-21; {name}".encode(), name), by=by, kind=JobFile.Kind.BLANK)
    Work.objects.filter(subject_kind="file", subject_id=sent.stored_id).update(
        state=state, result=a_casting().to_json()
    )
    return sent


def proposed(job, by):
    actions.propose_plan(Job.objects.get(pk=job.pk), by=by)
    return Job.objects.get(pk=job.pk)


def kinds(job):
    return [step.kind for step in queries.steps_of(job)]


def test_a_casting_that_was_sent_is_what_the_first_setup_begins_with(planned, programmer):
    sent = send(planned, programmer)
    assert proposed(planned, programmer).setups.first().blank_file == sent


def test_its_plan_has_no_saw(planned, programmer):
    assert "saw" in kinds(planned)
    send(planned, programmer)
    assert "saw" not in kinds(proposed(planned, programmer))


def test_a_saw_s_step_that_a_person_changed_stays(planned, programmer):
    actions.change_step(planned.steps.get(kind="saw"), by=programmer, instructions="cut the gates off")
    send(planned, programmer)
    assert "saw" in kinds(proposed(planned, programmer))


def test_a_person_who_takes_the_casting_out_of_the_setup_gets_the_saw_back(planned, programmer):
    send(planned, programmer)
    job = proposed(planned, programmer)
    actions.change_setup(job.setups.first(), by=programmer, blank_file=None)
    assert "saw" in kinds(proposed(job, programmer))


def test_a_casting_that_is_not_read_yet_leaves_the_plan_as_it_was(planned, programmer):
    send(planned, programmer, state=Work.State.WAITING)
    assert "saw" in kinds(proposed(planned, programmer))


def test_the_newest_casting_counts(planned, programmer):
    send(planned, programmer)
    newer = send(planned, programmer, "casting B.step")
    assert proposed(planned, programmer).setups.first().blank_file == newer


def test_the_setup_says_what_it_begins_with(planned, programmer):
    send(planned, programmer)
    first = proposed(planned, programmer).setups.first()
    assert (str(first.blank_x), str(first.blank_over), first.stock_in) == ("64 mm", "3 mm", "the blank as its model is")


def test_the_page_says_where_no_stock_stands(planned, programmer, client):
    send(planned, programmer)
    client.force_login(programmer)
    page = client.get(reverse("jobs:plan", args=[proposed(planned, programmer).pk])).text
    assert "No stock stands over \u2212Z, +Y, \u2212Y" in page


def test_the_plan_says_why_nothing_is_sawn(planned, programmer, client):
    sent = send(planned, programmer)
    client.force_login(programmer)
    page = client.get(reverse("jobs:plan", args=[proposed(planned, programmer).pk])).text
    assert f"Nothing is sawn: the blank is a model, {sent.name}." in page
