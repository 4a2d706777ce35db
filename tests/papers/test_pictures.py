"""The traveler's picture along the spindle: X+ of the machine points right and Y+ up, whichever way the part stands."""

from dataclasses import replace

import pytest
from django.template.loader import render_to_string

from shopflow.core.planning import AXES, directions_along_x, group_holes
from shopflow.core.planning.placement import rotation, turn
from shopflow.core.solid import Drawing, on_axis
from shopflow.jobs import actions, queries, tasks
from shopflow.jobs.models import Job, JobFile
from shopflow.papers.pictures import drawing_for, views_of, zero_mark
from tests.jobs.objects import a_job, a_read_job, an_upload
from tests.services import ROOT

POINT = (3.0, 5.0, 7.0)


@pytest.mark.parametrize(("up", "along_x"), [(up, along_x) for up in AXES for along_x in directions_along_x(up)])
def test_the_picture_is_turned_as_the_part_is_on_the_machine(up, along_x):
    flat, _ = views_of(up, along_x)
    assert flat.place(POINT) == pytest.approx(turn(rotation(up, along_x), POINT)[:2])


@pytest.mark.parametrize("up", AXES)
def test_where_nobody_said_what_lies_along_x_the_usual_view_is_drawn(up):
    assert views_of(up, "")[0].towards == AXES[up]


@pytest.fixture
def square():
    """A drawing from above of a square of 100 mm whose lower left corner is the model's origin."""
    edge = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0), (0.0, 0.0))
    return Drawing(views_of("+Z", "+X")[0], visible=(edge,), hidden=(), smooth=())


def test_part_zero_is_marked_where_it_lies_on_paper(square):
    assert 'cx="30.000" cy="80.000"' in zero_mark(square, (30.0, 20.0, 5.0))


@pytest.mark.parametrize("zero", [None, (300.0, 20.0, 0.0)])
def test_a_part_zero_that_is_unknown_or_off_the_paper_is_not_marked(square, zero):
    assert zero_mark(square, zero) == ""


def test_what_is_drawn_a_hair_off_the_axis_has_the_sizes_of_the_part_again(square):
    off = replace(square, visible=(((-0.0004, 0.0), (100.0008, 0.0), (100.0008, 40.0006), (-0.0004, 40.0006)),))
    seen = on_axis(off, views_of("+Z", "+X")[0], ((0.0, 0.0, 0.0), (100.0, 40.0, 25.0)))
    low, high = seen.box()
    assert (*low, *high) == pytest.approx((0, 0, 100, 40), abs=1e-9)


def test_a_drawing_of_one_solid_is_not_stretched_to_the_box_of_several(square):
    seen = on_axis(square, views_of("+Z", "+X")[0], ((0.0, 0.0, 0.0), (250.0, 100.0, 25.0)))
    assert seen.visible == square.visible


@pytest.mark.django_db
def test_the_drawing_of_a_job_without_a_model_is_said_in_words(lead):
    assert drawing_for(a_job(lead)).why_not == "This job has no model."


@pytest.mark.django_db
def test_the_drawing_of_a_model_that_cannot_be_read_is_said_in_words(lead):
    assert "cut off" in drawing_for(a_read_job(lead)).why_not


@pytest.fixture
def bracket(lead):
    """A job with the bracket of the demo, 80 × 60 × 20 mm with two counterbored holes of 6.6 mm, read."""
    job = a_job(lead)
    content = (ROOT / "seed_data" / "models" / "BK-104.step").read_bytes()
    actions.add_file(job, an_upload(content), by=lead, kind=JobFile.Kind.MODEL)
    tasks.read_model(Job.objects.get(pk=job.pk).reading_id)
    return Job.objects.get(pk=job.pk)


@pytest.mark.django_db
def test_the_drawing_page_of_the_traveler_shows_sizes_and_holes_by_balloon(bracket):
    groups = group_holes(queries.reading_of(bracket).holes)
    context = {"job": bracket, "drawing": drawing_for(bracket), "hole_groups": groups}
    page = render_to_string("papers/_drawing_page.html", context)
    for words in (">80.00<", ">60.00<", ">20.00<", ">1<", "2 × ⌀6.6", "third-angle projection"):
        assert words in page
