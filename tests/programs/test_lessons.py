"""What was learned at the machine is told where it belongs: to the part, and to what has the material or the tool."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.jobs.learned import learned
from shopflow.programs import actions, queries
from shopflow.records import ledger
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


def the_tool(number=1):
    return Tool.objects.get(number=number)


def test_a_lesson_may_be_kept_at_any_time_by_whoever_runs_the_machine(revision, machinist):
    actions.keep_lesson(the_tool(), "slower in the corners", by=machinist, job=revision.program.job)
    assert texts(revision) == ["slower in the corners"]


def test_who_only_looks_keeps_no_lesson(revision, viewer):
    with pytest.raises(PermissionDenied):
        actions.keep_lesson(the_tool(), "slower", by=viewer)


def test_a_lesson_without_words_is_refused(revision, owner):
    with pytest.raises(NotPossible, match="few words"):
        actions.keep_lesson(the_tool(), "  ", by=owner)


def test_a_retired_lesson_is_told_no_more_and_stays_in_the_list_with_its_reason(revision, owner, machinist):
    lesson = actions.keep_lesson(the_tool(), "slower", by=owner)
    actions.retire_lesson(lesson, "the tool was replaced", by=machinist)
    (kept,) = queries.lessons_about(the_tool(), retired=True)
    assert (texts(revision), learned(revision.program.job), kept.retired_reason, kept.retired_by) == (
        [], [], "the tool was replaced", machinist,
    )  # fmt: skip


@pytest.mark.parametrize("reason", ["", "once more"])
def test_a_lesson_is_retired_once_and_with_a_reason(revision, owner, reason):
    lesson = actions.keep_lesson(the_tool(), "slower", by=owner)
    if reason:
        actions.retire_lesson(lesson, "first", by=owner)
    with pytest.raises(NotPossible):
        actions.retire_lesson(lesson, reason, by=owner)


def test_keeping_and_retiring_stand_in_the_history_of_the_job_it_was_learned_in(revision, owner):
    job = revision.program.job
    lesson = actions.keep_lesson(job.part, "deburr before the turn", by=owner, job=job)
    actions.retire_lesson(lesson, "no more", by=owner)
    kinds = [row.kind for row in ledger.rows_for(job.chain)]
    assert kinds[-2:] == ["lesson_kept", "lesson_retired"]


@pytest.mark.parametrize("about", ["tool", "material", "part"])
def test_the_page_keeps_a_lesson_about_each_kind_of_thing(client, revision, owner, about):
    job = revision.program.job
    row = {"tool": the_tool(), "material": job.material, "part": job.part}[about]
    client.force_login(owner)
    address = f"{reverse('programs:lessons')}?{about}={row.pk}"
    client.post(address, {"about_what": f"{about}-{row.pk}", "text": f"of the {about}"})
    assert [lesson.text for lesson in queries.lessons_about(row)] == [f"of the {about}"]
    assert f"of the {about}" in client.get(address).text


def test_the_page_of_a_job_offers_its_part_its_material_and_its_tools(client, revision, owner):
    client.force_login(owner)
    form = client.get(f"{reverse('programs:lessons')}?job={revision.program.job_id}").context["form"]
    assert [type(row).__name__ for row in form.rows.values()] == ["Part", "Material", "Tool", "Tool"]


def test_the_page_of_a_tool_shows_what_was_learned_about_it(client, revision, owner):
    actions.keep_lesson(the_tool(), "slower in the corners", by=owner)
    client.force_login(owner)
    assert "slower in the corners" in client.get(reverse("shop:crib_row", args=[the_tool().pk])).text


def test_a_way_back_that_leads_out_of_the_shop_is_not_followed(client, revision, owner):
    client.force_login(owner)
    address = f"{reverse('programs:lessons')}?tool={the_tool().pk}&back=https://elsewhere.example/"
    answer = client.post(address, {"about_what": f"tool-{the_tool().pk}", "text": "x"})
    assert answer.url.startswith(reverse("programs:lessons"))
