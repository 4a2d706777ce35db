"""A newer model of a part beside the one before: what differs, on the page, and the steps that it touches."""

from dataclasses import replace

import pytest
from django.urls import reverse

from shopflow.jobs import actions, queries, tasks
from shopflow.jobs.models import Job, JobFile
from shopflow.records import cache
from shopflow.records.models import Work
from tests.core.planning.parts import a_hole, a_reading
from tests.jobs.objects import STEP_HEAD, a_drawing, a_job, a_planned_job, a_read_job, an_upload
from tests.objects import makes_all

pytestmark = pytest.mark.django_db

PLATE = a_reading()
OTHER = replace(PLATE, holes=(*PLATE.holes[1:], a_hole(14.0, 10.0), a_hole(30.0, 20.0, diameter_mm=9.0)))


@makes_all("jobs:model_mesh")
def a_model_of_a_job(everybody):
    job = a_read_job(everybody["lead"])
    return {"job_id": job.pk, "file_id": job.files.get(kind=JobFile.Kind.MODEL).pk}


def newer_model(job, by, reading, name="newer.step"):
    """A newer model of the job, read as a worker would have."""
    content = STEP_HEAD + name.encode()
    actions.add_file(job, an_upload(content, name), by=by, kind=JobFile.Kind.MODEL)
    job = Job.objects.get(pk=job.pk)
    Work.objects.filter(pk=job.reading_id).update(state=Work.State.DONE, result=reading.to_json())
    return Job.objects.get(pk=job.pk)


def compared(client, user, job, **query):
    """The page, after the worker has compared what it asked for."""
    client.force_login(user)
    address = reverse("jobs:changes", args=[job.pk])
    client.get(address, query)
    for row in Work.objects.filter(kind="compare_models", state=Work.State.WAITING):
        tasks.compare_models(row.pk)
    return client.get(address, query)


@pytest.fixture
def changed_job(programmer):
    return newer_model(a_planned_job(programmer), programmer, OTHER)


def test_a_first_model_has_nothing_to_be_compared_with(client, viewer, programmer):
    assert "Nothing to compare with" in compared(client, viewer, a_read_job(programmer)).content.decode()


def test_a_job_without_a_model_is_answered(client, viewer, programmer):
    assert "Nothing to compare with" in compared(client, viewer, a_job(programmer)).content.decode()


def test_a_comparison_is_long_work_that_the_page_waits_for(client, viewer, changed_job):
    client.force_login(viewer)
    shown = client.get(reverse("jobs:changes", args=[changed_job.pk])).content.decode()
    assert "hx-trigger" in shown and "Waiting for a free worker" in shown


def test_the_page_says_what_moved_and_what_was_added(client, viewer, changed_job):
    context = compared(client, viewer, changed_job).context
    assert [(item.what.how, item.setups) for item in context["items"]] == [("moved", (1, 2)), ("added", (1, 2))]


def test_the_steps_that_the_change_touches_are_named_with_the_reason(client, viewer, changed_job):
    steps = compared(client, viewer, changed_job).context["changed"].steps
    assert [(touched.step.kind, touched.why) for touched in steps] == [
        ("mill", ("1 hole moved", "1 hole added")),
        ("mill", ("1 hole moved", "1 hole added")),
    ]


def test_another_size_touches_the_saw_the_mill_and_the_balloon(client, viewer, programmer):
    job = a_planned_job(programmer)
    overall = next(offer for offer in queries.offers_of(job) if offer.name == "overall Z")
    actions.take_offers(job, [overall.key], by=programmer, today=job.due_on)
    job = newer_model(job, programmer, a_reading((60.0, 40.0, 14.0), holes=PLATE.holes))
    touched = {step.step.kind: step.why for step in compared(client, viewer, job).context["changed"].steps}
    assert touched["saw"] == ("the part has another size: look at the blank",)
    assert touched["inspect"] == ("balloon 1: the newer model has another size",)
    assert set(touched) == {"saw", "mill", "inspect"}


def test_what_no_setup_looks_at_is_said(client, viewer, programmer):
    aside = a_hole(axis=(1.0, 0.0, 0.0), reach=((1.0, 0.0, 0.0),), position_mm=(60.0, 20.0, 6.0), faces=(40,))
    job = newer_model(a_planned_job(programmer), programmer, replace(PLATE, holes=(*PLATE.holes, aside)))
    shown = compared(client, viewer, job)
    assert len(shown.context["changed"].uncut) == 1
    assert "where no setup of the plan looks" in shown.content.decode()


def test_the_same_model_sent_again_differs_nowhere(client, viewer, programmer):
    job = newer_model(a_planned_job(programmer), programmer, PLATE)
    assert "Nothing differs" in compared(client, viewer, job).content.decode()


def test_a_new_job_is_compared_with_the_part_s_earlier_revision(client, viewer, programmer):
    first = a_read_job(programmer, revision="B")
    job = newer_model(a_job(programmer, revision="C"), programmer, OTHER)
    context = compared(client, viewer, job).context
    assert context["base"].job == first and len(context["items"]) == 2


def test_another_model_than_the_newest_can_be_asked_for(client, viewer, programmer):
    job = newer_model(a_read_job(programmer), programmer, OTHER, "second.step")
    job = newer_model(job, programmer, PLATE, "third.step")
    first = job.files.filter(kind=JobFile.Kind.MODEL).last()
    assert compared(client, viewer, job).context["base"].name == "second.step"
    assert compared(client, viewer, job, before=first.pk).context["changed"].items == ()


def test_a_model_that_could_not_be_read_says_so_instead(client, viewer, changed_job):
    Work.objects.filter(pk=changed_job.reading_id).update(state=Work.State.FAILED, error="The file is cut off.")
    assert "The file is cut off." in compared(client, viewer, changed_job).content.decode()


def test_a_name_out_of_a_file_is_escaped(client, viewer, programmer):
    job = newer_model(a_read_job(programmer), programmer, OTHER, "<b>x</b>.step")
    assert "<b>x</b>" not in compared(client, viewer, job).content.decode()


def test_an_older_model_s_mesh_lost_from_the_cache_is_asked_for_again(client, viewer, changed_job):
    cache.trim(most_bytes=0)
    older = changed_job.files.filter(kind=JobFile.Kind.MODEL).last()
    client.force_login(viewer)
    assert client.get(reverse("jobs:model_mesh", args=[changed_job.pk, older.pk])).status_code == 204
    assert queries.work_of_model(older).state == Work.State.WAITING


def test_a_drawing_has_no_mesh(client, viewer, changed_job, programmer):
    client.force_login(viewer)
    print_ = a_drawing(changed_job, programmer)
    assert client.get(reverse("jobs:model_mesh", args=[changed_job.pk, print_.pk])).status_code == 404


def test_the_intake_leads_to_what_changed(client, viewer, changed_job):
    client.force_login(viewer)
    address = reverse("jobs:changes", args=[changed_job.pk])
    assert address in client.get(reverse("jobs:intake", args=[changed_job.pk])).content.decode()
