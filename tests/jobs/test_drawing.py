"""The line drawings of a model: long work of its own, kept in the cache, on a page of the job."""

from dataclasses import replace

import pytest
from django.urls import reverse

from shopflow.core import solid
from shopflow.jobs import actions, queries, tasks
from shopflow.jobs.actions import drawing
from shopflow.jobs.models import Job, JobFile
from shopflow.records import cache
from shopflow.records.models import Work
from tests.core.solid import parts
from tests.jobs.objects import STEP_HEAD, a_job, a_read_job, an_upload

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def plate(tmp_path_factory):
    """A plate of 60 × 40 × 12 mm with four holes of 6.6 mm, as a_reading has it."""
    shape = parts.box(60, 40, 12)
    for x, y in ((10, 10), (10, 30), (50, 10), (50, 30)):
        shape = parts.cut(shape, parts.cylinder(3.3, 20, (x, y, -4)))
    return parts.write(shape, tmp_path_factory.mktemp("drawn") / "plate.step").read_bytes()


@pytest.fixture
def drawn(programmer, plate):
    job = a_job(programmer)
    actions.add_file(job, an_upload(plate), by=programmer, kind=JobFile.Kind.MODEL)
    tasks.read_model(Job.objects.get(pk=job.pk).reading_id)
    job = Job.objects.get(pk=job.pk)
    tasks.draw_views(actions.ask_drawing(job).pk)
    return job


def svg(client, user, job, **query):
    client.force_login(user)
    return client.get(reverse("jobs:views_svg", args=[job.pk]), query)


def shown(client, user, job):
    client.force_login(user)
    return client.get(reverse("jobs:views", args=[job.pk])).content.decode()


def test_the_drawing_shows_the_overall_sizes_and_one_balloon_a_size(client, viewer, drawn):
    picture = svg(client, viewer, drawn).content.decode()
    assert [picture.count(f">{words}<") for words in ("60.00", "40.00", "12.00", "1", "2")] == [1, 1, 1, 1, 0]


def test_the_drawing_is_in_the_reader_s_own_unit(client, viewer, drawn):
    viewer.units = "in"
    viewer.save()
    assert ">2.362<" in svg(client, viewer, drawn).content.decode()


def test_the_page_shows_the_drawing_and_its_holes_by_balloon(client, viewer, drawn):
    page = shown(client, viewer, drawn)
    assert reverse("jobs:views_svg", args=[drawn.pk]) in page and "Balloon" in page


def test_the_drawing_is_asked_for_when_it_is_first_looked_at(client, viewer, programmer):
    job = a_read_job(programmer)
    assert "Waiting for a free worker" in shown(client, viewer, job)
    assert Work.objects.filter(kind="draw_views", state=Work.State.WAITING).count() == 1


def test_a_drawing_lost_from_the_cache_is_drawn_again(client, viewer, drawn):
    cache.trim(most_bytes=0)
    assert svg(client, viewer, drawn).status_code == 204
    assert "hx-trigger" in shown(client, viewer, drawn)
    tasks.draw_views(Work.objects.get(kind="draw_views").pk)
    assert svg(client, viewer, drawn).status_code == 200


def test_a_model_that_cannot_be_drawn_says_why_and_can_be_tried_again(client, programmer):
    job = a_read_job(programmer)
    tasks.draw_views(actions.ask_drawing(job).pk)
    page = shown(client, programmer, job)
    assert "cut off" in page and "Try again" in page
    client.post(reverse("jobs:views", args=[job.pk]))
    assert Work.objects.get(kind="draw_views").state == Work.State.WAITING


def test_there_is_nothing_to_draw_before_the_model_is_read(client, viewer, programmer):
    job = a_job(programmer)
    actions.add_file(job, an_upload(STEP_HEAD), by=programmer, kind=JobFile.Kind.MODEL)
    assert "Nothing to draw yet" in shown(client, viewer, job)


def test_what_was_drawn_for_the_page_is_not_drawn_again_for_a_paper(drawn):
    model = queries.current_file(drawn, JobFile.Kind.MODEL)
    told = []
    assert len(actions.lines_of(model.stored, None, queries.STANDARD, told=told.append)) == 7 and told == []


def test_a_view_is_the_same_under_another_name(drawn):
    model = queries.current_file(drawn, JobFile.Kind.MODEL)
    (found,) = queries.drawn(model.stored.sha256, None, [replace(queries.STANDARD[-1], name="corner")])
    assert found.view.name == "corner" and found.visible


def test_a_model_that_is_read_is_drawn_before_anybody_looks(programmer, plate):
    job = a_job(programmer)
    actions.add_file(job, an_upload(plate), by=programmer, kind=JobFile.Kind.MODEL)
    tasks.read_model(Job.objects.get(pk=job.pk).reading_id)
    assert Work.objects.get(kind="draw_views").state == Work.State.WAITING


def test_nothing_is_drawn_before_a_solid_is_chosen(programmer, tmp_path):
    two = parts.together(parts.box(10, 10, 10), parts.box(10, 10, 10, (20, 0, 0)))
    job = a_job(programmer)
    content = parts.write(two, tmp_path / "two.step").read_bytes()
    actions.add_file(job, an_upload(content), by=programmer, kind=JobFile.Kind.MODEL)
    tasks.read_model(Job.objects.get(pk=job.pk).reading_id)
    assert not Work.objects.filter(kind="draw_views").exists()


def test_lines_drawn_in_a_hurry_are_not_kept_unless_they_are_exact(programmer, plate, monkeypatch):
    monkeypatch.setattr(drawing, "HURRIED", solid.Limits(views_s=0.0))
    job = a_job(programmer)
    stored = actions.add_file(job, an_upload(plate), by=programmer, kind=JobFile.Kind.MODEL).stored
    (line,) = actions.lines_of(stored, 0, queries.STANDARD[:1], is_hurried=True)
    assert not line.is_exact and line.visible and queries.drawn(stored.sha256, 0, queries.STANDARD[:1]) == [None]
