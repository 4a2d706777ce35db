"""The part zero on the model: proposed, chosen by name, typed, told in the machinist's words, asked for by the gate."""

import pytest
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.core.planning import NotSquare
from shopflow.jobs import actions, queries
from shopflow.jobs.models import Job, PlanApproval
from shopflow.people.models import Role
from shopflow.workflow.gates import plan_gate
from tests.jobs.objects import a_job, a_planned_job, a_read_job
from tests.people_fixtures import make_person

pytestmark = pytest.mark.django_db

# The part of a_reading: 60 × 40 × 12 with one corner at the model's origin; its blank 65 × 45 × 19, 1.5 over it.
NONE = {"along_x": "", "zero_x": None, "zero_y": None, "zero_z": None}


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    return a_planned_job(make_person("the_planner", Role.PROGRAMMER)).pk


@pytest.fixture
def planned(made_once, db):
    return Job.objects.get(pk=made_once)


@pytest.fixture
def first(planned):
    return planned.setups.get(up="+Z")


@pytest.fixture
def desk(client, programmer):
    client.force_login(programmer)
    return client


@pytest.fixture
def typed(desk, first):
    """Send the setup's form as it was shown, but for what is changed; the answer, and the setup as it is then."""

    def send(**changes):
        address = reverse("jobs:setup", args=[first.pk])
        form = desk.get(address).context["form"]
        shown = {name: form[name].value() for name in form.fields}
        sent = {name: str(value) for name, value in (shown | changes).items() if value is not None}
        answer = desk.post(address, sent)
        first.refresh_from_db()
        return answer

    return send


def zero(setup):
    return [str(at) for at in setup.zero]


def told(setup, **more):
    return queries.zero_of(setup, **more).words


def test_a_proposed_zero_is_the_middle_of_the_part_s_top(first):
    assert (first.along_x, zero(first)) == ("+X", ["30 mm", "20 mm", "12 mm"])
    assert told(first) == "X0 Y0 middle of blank and finished part, Z0 top of the finished part"


def test_turned_over_the_top_is_the_part_s_other_side(planned):
    setup = planned.setups.get(up="-Z")
    assert zero(setup) == ["30 mm", "20 mm", "0 mm"]


def test_a_place_chosen_by_name_gives_the_numbers(typed, first):
    assert typed(place="part left back", height="part top").status_code == 302
    assert zero(first) == ["0 mm", "40 mm", "12 mm"]
    assert told(first) == "X0 left side, Y0 back side, Z0 top of the finished part"


def test_left_and_back_follow_the_side_that_is_up(typed, first):
    typed(up="-Z", place="part left back", height="part top")
    assert zero(first) == ["0 mm", "0 mm", "0 mm"]


def test_a_corner_of_the_blank_lies_beside_the_part(typed, first):
    typed(place="blank left front", height="blank top")
    assert zero(first) == ["-2.5 mm", "-2.5 mm", "13.5 mm"]
    assert told(first) == "X0 left side, Y0 front side, Z0 top of the blank"


def test_the_middle_of_a_hole_is_a_place(typed, first):
    typed(place="hole 1", height="part bottom")
    assert zero(first) == ["10 mm", "10 mm", "0 mm"]
    assert told(first) == "X0 Y0 centre of the hole \u2300 6.6 mm, Z0 bottom of the finished part"


def test_somebody_in_inches_gets_a_place_in_inches(typed, first, programmer):
    programmer.units = "in"
    programmer.save()
    typed(place="part right middle", height="part top")
    assert zero(first) == ["2.3622 in", "0.7874 in", "0.47244 in"]
    assert told(first, units="in") == (
        "X0 right side of the finished part, Y0 middle of blank and finished part, Z0 top of the finished part"
    )


def test_numbers_that_are_typed_are_kept_as_typed_and_told_by_their_distance(typed, first):
    typed(zero_x="12.500", zero_y="1 in", zero_z="12 mm")
    assert zero(first) == ["12.500 mm", "1 in", "12 mm"]
    assert told(first).startswith("X0 12.5 mm right of the left side of the finished part, Y0 5.4 mm behind the middle")


def test_typed_numbers_win_over_a_place_that_was_left_as_it_was(typed, first):
    typed(zero_x="0")
    assert zero(first)[0] == "0 mm"


def test_a_place_moves_with_a_blank_that_is_changed(typed, first):
    typed(place="blank left front", height="blank top")
    typed(blank_x="70 mm")
    assert zero(first) == ["-5 mm", "-2.5 mm", "13.5 mm"]


def test_what_is_up_cannot_lie_along_x(typed, first, programmer):
    answer = typed(along_x="+Z")
    assert answer.status_code == 422
    assert "choose one that lies flat" in answer.content.decode()
    with pytest.raises(NotSquare):
        actions.change_setup(first, by=programmer, along_x="-Z")


def test_a_zero_is_three_numbers_or_none(typed):
    answer = typed(place="", height="", zero_y="")
    assert answer.status_code == 422
    assert "all three numbers" in answer.content.decode()


def test_a_zero_that_a_person_typed_stays_when_the_plan_is_proposed_again(typed, first, programmer):
    typed(zero_x="1 mm")
    actions.propose_plan(first.job, by=programmer)
    first.refresh_from_db()
    assert zero(first) == ["1 mm", "20 mm", "12 mm"]


def test_a_plan_without_a_zero_on_the_model_is_not_approved(planned, first, programmer):
    actions.change_setup(first, by=programmer, **NONE)
    with pytest.raises(NotPossible, match="where on the model the part zero is first: setup 1"):
        actions.approve_plan(planned, by=programmer, seen=queries.plan_hash(planned))
    assert queries.setups_missing(planned) == ["setup 1 lacks a part zero on the model"]


def test_a_plan_approved_before_zeros_had_numbers_still_passes(planned, programmer):
    for setup in planned.setups.all():
        actions.change_setup(setup, by=programmer, zero_point="top, middle", **NONE)
    lacking = [one.text for one in plan_gate(Job.objects.get(pk=planned.pk)) if not one.met]
    PlanApproval.objects.create(job=planned, plan_hash=queries.plan_hash(planned), approved_by=programmer)
    missing = [one.text for one in plan_gate(Job.objects.get(pk=planned.pk)) if not one.met]
    assert [text for text in lacking if text not in missing] == [
        "every setup has machine, workholding, orientation, work offset, part zero, stock and tools",
        "a person approved the plan as it is now",
    ]


def test_without_a_model_words_are_enough(programmer):
    job = a_job(programmer, no_model_reason="a sample")
    actions.propose_plan(job, by=programmer)
    setup = job.setups.get()
    setup = actions.change_setup(setup, by=programmer, workholding="vise", zero_point="left end, on centre")
    assert "part zero" not in " ".join(queries.setups_missing(Job.objects.get(pk=job.pk)))
    assert queries.zero_text(setup) == "left end, on centre"


def test_a_changed_zero_ends_the_approval(planned, first, programmer):
    actions.approve_plan(planned, by=programmer, seen=queries.plan_hash(planned))
    actions.change_setup(first, by=programmer, zero_x="1 mm")
    assert not queries.is_plan_approved(Job.objects.get(pk=planned.pk))


def test_the_picture_of_a_setup_is_placed_at_its_zero(desk, first):
    page = desk.get(reverse("jobs:setup", args=[first.pk]))
    assert page.context["placement"] == "1 0 0 0 1 0 0 0 1 -30 -20 -12"
    assert page.context["blank"] == "-2.5 -2.5 -5.5 62.5 42.5 13.5"


def test_while_the_zero_is_not_known_the_picture_says_so(desk, first, programmer):
    actions.change_setup(first, by=programmer, **NONE)
    page = desk.get(reverse("jobs:setup", args=[first.pk]))
    assert page.context["placement"] == ""
    assert "Nobody has said where on the model the part zero is" in page.content.decode()


def test_a_job_that_is_only_read_has_no_setup_to_place(programmer):
    assert queries.setups_without_zero(a_read_job(programmer)) == []


class TestByAngles:
    """Setups on an angle plate, a sine bar or in a turned vise."""

    def test_angles_are_typed_and_kept(self, typed, first):
        assert typed(tilt_x="12.5\u00b0", turn_z="-30").status_code == 302
        assert (first.angles, {"tilt_x", "turn_z"} <= set(first.fixed)) == ((12.5, 0.0, -30.0), True)

    def test_the_orientation_says_them(self, typed, first):
        typed(tilt_y="12.5", turn_z="-30")
        assert first.orientation == "+Z up, tilted 12.5\u00b0 about Y, turned \u221230\u00b0 about Z"

    def test_what_is_no_angle_is_asked_again_and_not_lost(self, typed, first):
        answer = typed(turn_z="a little")
        assert answer.status_code == 422
        assert answer.context["form"]["turn_z"].value() == "a little" and first.turn_z == 0

    def test_an_angle_needs_the_direction_that_it_is_turned_from(self, typed, first):
        assert "before it is turned" in str(typed(turn_z="30", **dict.fromkeys(NONE, "")).context["form"].errors)

    def test_the_zero_stays_where_it_is_on_the_model(self, typed, first):
        before = zero(first)
        typed(turn_z="30")
        assert zero(first) == before
        assert queries.zero_text(first) == "X0 Y0 Z0 at the model's X 30 mm Y 20 mm Z 12 mm"

    def test_an_angle_makes_an_approved_plan_another_plan(self, typed, planned, first):
        before = queries.plan_hash(planned)
        typed(turn_z="30")
        assert queries.plan_hash(Job.objects.get(pk=planned.pk)) != before

    def test_the_part_is_drawn_as_it_stands(self, typed, first):
        typed(tilt_x="45")
        rotation = queries.placement_of(first).rotation
        assert rotation[6:9] == pytest.approx((0.0, 0.5**0.5, 0.5**0.5))
