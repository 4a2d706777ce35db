"""What was learned at the machine is told where it belongs: to the part, and to what has the material or the tool."""

import pytest
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.jobs.learned import learned
from shopflow.programs import actions, queries
from shopflow.shop.models import Tool
from tests.jobs.objects import a_material
from tests.programs.objects import a_planned_job, a_program, upload

pytestmark = pytest.mark.django_db


@pytest.fixture
def revision(job, owner):
    return upload(job, a_program(depth=4), by=owner)


def note(revision, owner, about, **more):
    return actions.note_lesson(revision, f"about the {about}", by=owner, about=about, **more)


def texts(revision):
    return [lesson.text for lesson in queries.lessons_for(revision)]


def another(owner, **changes):
    """A program of another part, of another material, with T1 alone."""
    job = a_planned_job(owner, part_number="OTHER-9", material=a_material(name="brass"), **changes)
    return upload(job, by=owner)


def test_a_lesson_about_the_part_is_told_to_that_part_alone(revision, owner):
    note(revision, owner, "part")
    assert (texts(revision), texts(another(owner))) == (["about the part"], [])


def test_a_lesson_about_a_tool_is_told_to_every_program_that_calls_it(revision, owner):
    note(revision, owner, "tool", tool=1)
    assert texts(another(owner)) == ["about the tool"]


def test_a_lesson_about_a_tool_is_not_told_to_a_program_that_does_not_call_it(revision, owner):
    note(revision, owner, "tool", tool=2)
    assert texts(another(owner)) == []


def test_a_lesson_about_a_material_is_told_to_other_parts_of_it(revision, owner):
    note(revision, owner, "material")
    other = another(owner)
    same = upload(a_planned_job(owner, part_number="OTHER-10", material=revision.program.job.material), by=owner)
    assert (texts(other), texts(same)) == ([], ["about the material"])


def test_a_lesson_about_a_tool_names_which(revision, owner):
    with pytest.raises(NotPossible, match="which tool"):
        note(revision, owner, "tool")


def test_a_tool_that_the_program_does_not_call_is_none_to_learn_about(revision, owner):
    Tool.objects.create(number=40, name="saw", shape="flat end mill", diameter="63 mm", flute_length="2 mm",
                        stickout="30 mm", shank_diameter="16 mm", flutes=20)  # fmt: skip
    with pytest.raises(NotPossible, match="which tool"):
        note(revision, owner, "tool", tool=40)


def test_the_plan_of_the_next_job_is_told_of_its_tools(revision, owner):
    note(revision, owner, "tool", tool=2)
    (told,) = learned(a_planned_job(owner, part_number="OTHER-11"))
    assert (told.text, "jobber drill" in told.about, told.job) == (
        "about the tool", True, revision.program.job.number,
    )  # fmt: skip


def test_the_plan_page_shows_what_was_learned(client, revision, owner):
    note(revision, owner, "part")
    client.force_login(owner)
    assert "about the part" in client.get(reverse("jobs:plan", args=[revision.program.job_id])).text
