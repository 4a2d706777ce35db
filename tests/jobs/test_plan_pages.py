"""The pages of the plan, as their people use them: with and without scripts."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.core.solid import Pmi, PmiItem
from shopflow.jobs import actions, queries
from shopflow.jobs.models import Characteristic, Job, SetupTool, Touch
from shopflow.shop.models import Gauge, Tool
from tests.core.planning.parts import a_reading
from tests.jobs.objects import a_crib, a_job, a_machine, a_planned_job, a_read_job

pytestmark = pytest.mark.django_db

HOSTILE = "<img src=x onerror=alert(1)>"
BY_HTMX = {"HX-Request": "true"}


@pytest.fixture
def planned(programmer):
    return a_planned_job(programmer)


@pytest.fixture
def desk(client, programmer):
    client.force_login(programmer)
    return client


def url(name, *args):
    return reverse(f"jobs:{name}", args=args)


def shown(answer):
    return answer.content.decode()


def test_an_empty_plan_offers_to_propose_one(desk, programmer):
    job = a_read_job(programmer)
    assert url("propose", job.pk) in shown(desk.get(url("plan", job.pk)))


def test_an_empty_plan_says_what_it_waits_for(desk, programmer):
    job = a_job(programmer)
    assert "No model was uploaded" in shown(desk.get(url("plan", job.pk)))


def test_a_plan_is_proposed_at_the_press_of_a_button(desk, programmer):
    a_machine()
    a_crib()
    job = a_read_job(programmer)
    answer = desk.post(url("propose", job.pk), follow=True)
    assert job.steps.count() == 6
    assert "Everything can be changed" in answer.content.decode() or "everything can be changed" in shown(answer)


def test_the_plan_shows_routing_setups_and_approval(desk, planned):
    page = shown(desk.get(url("plan", planned.pk)))
    for words in ("saw the blanks", "mill with +Z up", "small mill", "G54", "Approve the plan", "65 mm"):
        assert words in page


def test_a_viewer_sees_the_plan_without_its_buttons(client, planned, viewer):
    client.force_login(viewer)
    page = shown(client.get(url("plan", planned.pk)))
    assert "mill with +Z up" in page
    assert url("propose", planned.pk) not in page
    assert "Approve the plan" not in page


def test_a_step_is_changed_in_place(desk, planned):
    step = planned.steps.get(kind="deburr")
    form = desk.get(url("step", step.pk), headers=BY_HTMX)
    assert "<html" not in shown(form)
    assert f'id="step-{step.pk}"' in shown(form)
    typed = {
        "op_number": 40,
        "title": "deburr all over",
        "minutes_each": "2.5",
        "minutes_setup": "",
        "instructions": "",
    }
    answer = desk.post(url("step", step.pk), typed, headers=BY_HTMX)
    assert 'id="plan"' in shown(answer)
    step.refresh_from_db()
    assert (step.title, str(step.minutes_each)) == ("deburr all over", "2.50")


def test_a_wrong_field_comes_back_in_its_own_row(desk, planned):
    step = planned.steps.get(kind="deburr")
    answer = desk.post(url("step", step.pk), {"op_number": 40, "title": ""}, headers=BY_HTMX)
    assert answer.status_code == 422
    assert answer["HX-Retarget"] == f"#step-{step.pk}"


def test_a_step_is_changed_without_scripts(desk, planned):
    step = planned.steps.get(kind="deburr")
    answer = desk.post(url("step", step.pk), {"op_number": 45, "title": "deburr"})
    assert answer.url == url("plan", planned.pk)
    step.refresh_from_db()
    assert step.op_number == 45


def test_a_refused_op_number_is_said_at_the_form(desk, planned):
    step = planned.steps.get(kind="deburr")
    answer = desk.post(url("step", step.pk), {"op_number": 10, "title": "deburr"})
    assert "Op 10 is there already" in shown(answer)


def test_steps_are_added_moved_and_taken_out_by_their_buttons(desk, planned):
    desk.post(url("add_step", planned.pk), {"kind": "outside", "title": "anodise", "after": ""})
    added = planned.steps.get(kind="outside")
    desk.post(url("move_step", added.pk), {"way": "up"})
    assert [step.kind for step in queries.steps_of(planned)].index("outside") == 4
    desk.post(url("remove_step", added.pk))
    assert not planned.steps.filter(kind="outside").exists()


LENGTHS = ("blank_x", "blank_y", "blank_z", "blank_over", "zero_x", "zero_y", "zero_z")


def setup_typed(setup, **changes):
    given = {
        "title": setup.title, "machine": setup.machine_id or "", "up": setup.up, "manual_reason": "",
        "workholding": setup.workholding, "grip": str(setup.grip or ""), "work_offset": setup.work_offset,
        "zero_point": setup.zero_point, "pick_up": setup.pick_up, "stock_in": setup.stock_in,
        "along_x": setup.along_x, "pick_up_by": setup.pick_up_by, "fixed_jaw": setup.fixed_jaw,
        "stop_side": setup.stop_side, "located_on": setup.located_on, "datums": setup.datums,
        **{name: str(getattr(setup, name) or "") for name in LENGTHS},
    }  # fmt: skip
    return {**given, **changes}


def test_a_setup_saved_unchanged_stays_open_to_proposals(desk, planned):
    setup = planned.setups.first()
    desk.post(url("setup", setup.pk), setup_typed(setup))
    setup.refresh_from_db()
    assert setup.fixed == []


def test_a_length_keeps_what_was_typed_in_the_person_s_own_unit(desk, planned, programmer):
    programmer.units = "in"
    programmer.save()
    setup = planned.setups.first()
    desk.post(url("setup", setup.pk), setup_typed(setup, grip="1/4", blank_x="2.75 in", blank_y="70 mm"))
    setup.refresh_from_db()
    assert [str(x) for x in (setup.grip, setup.blank_x, setup.blank_y)] == ["1/4 in", "2.75 in", "70 mm"]
    assert setup.grip.mm == pytest.approx(6.35)
    assert setup.fixed == ["blank_x", "blank_y", "grip"]


@pytest.mark.parametrize(
    ("typed", "says"), [("soon", "is not a length"), ("-3", "zero or more"), ("1/0", "divides by zero")]
)
def test_what_is_no_length_is_said_at_its_field(desk, planned, typed, says):
    setup = planned.setups.first()
    answer = desk.post(url("setup", setup.pk), setup_typed(setup, grip=typed))
    assert answer.status_code == 422
    assert says in shown(answer)
    assert f'value="{typed}"' in shown(answer)


def test_tools_and_stops_come_and_go_on_the_setup_s_page(desk, planned):
    setup = planned.setups.first()
    tool = Tool.objects.get(number=3)
    desk.post(url("tools", setup.pk), {"tool": tool.pk, "purpose": "engrave"})
    picked = setup.setup_tools.get(tool=tool)
    desk.post(url("touches", setup.pk), {"reason": "turn the clamp", "after_tool": tool.pk})
    assert "turn the clamp" in shown(desk.get(url("setup", setup.pk)))
    desk.post(url("tools", setup.pk), {"drop": picked.pk})
    desk.post(url("touches", setup.pk), {"drop": setup.touches.get().pk})
    assert not setup.touches.exists()
    assert not setup.setup_tools.filter(tool=tool).exists()


def test_a_tool_of_another_setup_is_not_dropped(desk, planned):
    first, second = planned.setups.all()
    row = second.setup_tools.first()
    assert desk.post(url("tools", first.pk), {"drop": row.pk}).status_code == 404


def test_an_added_setup_opens_its_own_page(desk, planned):
    answer = desk.post(url("add_setup", planned.pk))
    assert answer.url == url("setup", planned.setups.last().pk)


def lines(*typed, total=None):
    """What the list sends: each line's fields, and empty ones for the rest."""
    blank = dict.fromkeys(
        ("pk", "number", "name", "nominal", "plus_minus", "lower", "upper", "step", "gauge", "note"), ""
    )
    data = {"form-TOTAL_FORMS": total or len(typed), "form-INITIAL_FORMS": 0}
    for index, line in enumerate(typed):
        data |= {f"form-{index}-{name}": value for name, value in {**blank, **line}.items()}
    return data


def test_several_characteristics_are_added_at_once(desk, planned):
    step = planned.steps.get(kind="inspect").pk
    desk.post(
        url("characteristics", planned.pk),
        lines(
            {"name": "width", "nominal": "40", "plus_minus": "0.1", "step": step},
            {"name": "bore", "nominal": ".2600 in", "lower": ".2595 in", "upper": ".2610 in", "step": step},
            {},
        ),
    )
    width, bore = planned.characteristics.all()
    assert (width.number, str(width.lower), str(width.upper)) == (1, "39.9 mm", "40.1 mm")
    assert (bore.number, str(bore.lower), str(bore.upper)) == (2, ".2595 in", ".2610 in")
    assert not queries.unassigned_characteristics(planned).exists()


def test_limits_of_a_plus_minus_are_exact(desk, planned):
    desk.post(url("characteristics", planned.pk), lines({"name": "x", "nominal": "0.3", "plus_minus": "0.1"}))
    row = planned.characteristics.get()
    assert (str(row.lower.value), str(row.upper.value)) == ("0.2", "0.4")


def test_crossed_limits_are_refused_and_nothing_is_lost(desk, planned):
    answer = desk.post(url("characteristics", planned.pk), lines({"name": "width", "lower": "41", "upper": "40"}))
    assert answer.status_code == 422
    assert "is over the upper limit" in shown(answer)
    assert 'value="41"' in shown(answer)
    assert not planned.characteristics.exists()


def test_a_balloon_is_not_given_twice(desk, planned):
    typed = lines({"name": "a", "number": "3"}, {"name": "b", "number": "3"})
    assert "there twice: 3" in shown(desk.post(url("characteristics", planned.pk), typed))


def test_an_aql_that_counts_no_pieces_is_refused(desk, planned):
    typed = lines({"name": "bore", "sampling": "AQL 15"})
    assert "Type one up to 10" in shown(desk.post(url("characteristics", planned.pk), typed))


def test_balloons_can_change_places(desk, planned, programmer):
    first, second = actions.save_characteristics(
        planned, [actions.CharacteristicLine(name="a"), actions.CharacteristicLine(name="b")], by=programmer
    )
    typed = lines({"pk": first.pk, "number": "2", "name": "a"}, {"pk": second.pk, "number": "1", "name": "b"})
    desk.post(url("characteristics", planned.pk), typed)
    assert list(planned.characteristics.values_list("number", "name")) == [(1, "b"), (2, "a")]


def test_a_line_ticked_is_taken_out(desk, planned, programmer):
    row = actions.save_characteristics(planned, [actions.CharacteristicLine(name="a")], by=programmer)[0]
    desk.post(url("characteristics", planned.pk), lines({"pk": row.pk, "number": "1", "name": "a", "remove": "on"}))
    assert not planned.characteristics.exists()


def test_a_line_of_another_job_cannot_be_written(desk, planned, programmer):
    other = a_job(programmer)
    row = actions.save_characteristics(other, [actions.CharacteristicLine(name="theirs")], by=programmer)[0]
    desk.post(url("characteristics", planned.pk), lines({"pk": row.pk, "number": "1", "name": "mine"}))
    row.refresh_from_db()
    assert row.name == "theirs"


def test_sizes_of_the_model_are_offered_with_general_tolerances(desk, planned):
    """⌀6.6 is over 6 and up to 30: ± 0.2 by ISO 2768-1:1989 table 1, class m; 60 is over 30 and up to 120: ± 0.3."""
    offers = {offer.name: (str(offer.lower), str(offer.upper)) for offer in queries.offers_of(planned)}
    assert offers["4 × hole ⌀ 6.6"] == ("6.4 mm", "6.8 mm")
    assert offers["overall X"] == ("59.7 mm", "60.3 mm")


def test_offers_taken_over_stand_at_the_inspection_step_with_a_gauge_that_resolves_them(desk, planned):
    """A tenth of the tolerance of 0.4 mm is 0.04 mm: the calliper of 0.02 does, the rule of 0.5 does not."""
    soon = dt.date.today() + dt.timedelta(days=90)
    for number, resolution in (("R-1", "0.5 mm"), ("C-1", "0.02 mm"), ("M-1", "0.001 mm")):
        Gauge.objects.create(number=number, name=number, resolution=resolution, calibrated_until=soon)
    key = next(offer.key for offer in queries.offers_of(planned) if offer.name.startswith("4 × hole"))
    desk.post(url("take_offers", planned.pk), {"offer": [key]})
    row = planned.characteristics.get()
    assert (row.gauge.number, row.step.kind, row.note) == ("C-1", "inspect", "ISO 2768-m")
    assert not [offer for offer in queries.offers_of(planned) if offer.key == key]


def test_taking_nothing_over_says_what_to_do(desk, planned):
    answer = desk.post(url("take_offers", planned.pk), follow=True)
    assert "Tick the characteristics" in shown(answer)


def test_the_plan_is_approved_as_it_was_seen(desk, planned):
    desk.post(url("approve_plan", planned.pk), {"seen": queries.plan_hash(planned)})
    assert queries.is_plan_approved(planned)
    assert "It holds until" in shown(desk.get(url("plan", planned.pk)))


def test_an_approval_that_lapsed_says_so(desk, planned, programmer):
    actions.approve_plan(planned, by=programmer, seen=queries.plan_hash(planned))
    actions.change_setup(planned.setups.first(), by=programmer, workholding="clamps")
    assert "no longer holds" in shown(desk.get(url("plan", planned.pk)))


def test_hostile_words_reach_the_plan_as_text(desk, planned, programmer):
    setup = planned.setups.first()
    actions.change_setup(setup, by=programmer, title=HOSTILE[:120], workholding=HOSTILE)
    actions.add_touch(setup, by=programmer, reason=HOSTILE)
    actions.save_characteristics(planned, [actions.CharacteristicLine(name=HOSTILE)], by=programmer)
    for name, args in (("plan", [planned.pk]), ("setup", [setup.pk]), ("characteristics", [planned.pk])):
        page = shown(desk.get(url(name, *args)))
        assert "<img src=x" not in page
        assert "&lt;img src=x" in page


def test_the_plan_takes_the_same_queries_for_two_setups_and_for_five(desk, planned, programmer):
    desk.get(url("plan", planned.pk))
    with CaptureQueriesContext(connection) as few:
        desk.get(url("plan", planned.pk))
    for _ in range(3):
        actions.add_setup(planned, by=programmer)
    with CaptureQueriesContext(connection) as many:
        desk.get(url("plan", planned.pk))
    assert len(many) == len(few)


@pytest.mark.parametrize("page", ["plan", "characteristics", "setup"])
def test_a_page_takes_the_same_queries_for_more_characteristics_and_more_tools(desk, planned, page):
    setup = planned.setups.first()
    where = url(page, setup.pk if page == "setup" else planned.pk)
    fill(setup, range(1, 3))
    desk.get(where)
    with CaptureQueriesContext(connection) as few:
        desk.get(where)
    fill(setup, range(3, 9))
    with CaptureQueriesContext(connection) as many:
        desk.get(where)
    assert len(many) == len(few)


def fill(setup, numbers):
    for number in numbers:
        tool = Tool.objects.create(number=900 + number, name="mill", shape="flat end mill", diameter="10 mm")
        SetupTool.objects.create(setup=setup, tool=tool)
        Touch.objects.create(setup=setup, after_tool=tool, reason="look")
        limits = {"nominal": "10 mm", "lower": "9.9 mm", "upper": "10.1 mm"}
        gauge = Gauge.objects.create(number=f"G{number}", name="caliper")
        Characteristic.objects.create(job=setup.job, number=900 + number, name="width", gauge=gauge, **limits)


def test_a_plan_on_the_floor_shows_no_buttons(desk, planned):
    Job.objects.filter(pk=planned.pk).update(stage="floor")
    page = shown(desk.get(url("plan", planned.pk)))
    assert url("propose", planned.pk) not in page
    assert Characteristic.objects.count() == 0


def test_dimensions_of_the_file_are_offered_with_their_own_limits(programmer):
    """A deviation of −0.1 to +0.2 on 40 gives 39.9 and 40.2, exact."""
    item = PmiItem("dimension", "linear", value=40.0, lower=-0.1, upper=0.2)
    angle = PmiItem("dimension", "angle", value=30.0, unit="deg")
    pmi = Pmi(dimensions=2, items=(item, angle))
    offers = queries.offers_of(a_read_job(programmer, reading=a_reading(pmi=pmi)))
    own = [offer for offer in offers if offer.key.startswith("pmi")]
    assert [(offer.name, str(offer.lower), str(offer.upper)) for offer in own] == [
        ("1 linear, from the file", "39.9 mm", "40.2 mm"),
        ("2 angle 30°, from the file", "None", "None"),  # the file gives the angle no tolerance
    ]


def test_sizes_below_the_table_are_offered_without_limits(programmer):
    """ISO 2768-1 gives no general tolerance below 0.5 mm."""
    offers = queries.offers_of(a_read_job(programmer, reading=a_reading(size=(20.0, 10.0, 0.4), holes=[])))
    thin = next(offer for offer in offers if offer.name == "overall Z")
    assert (thin.lower, thin.upper, thin.source) == (None, None, "no general tolerance for this size")


def test_what_was_taken_out_is_brought_back_by_its_button(desk, planned, programmer):
    actions.remove_step(planned.steps.get(kind="saw"), by=programmer)
    assert "Bring back" in shown(desk.get(url("plan", planned.pk)))
    desk.post(url("bring_back", planned.pk))
    assert planned.steps.filter(kind="saw").exists()


def test_a_missing_tool_is_named_in_the_reader_s_own_units(desk, planned, programmer):
    Tool.objects.filter(number__in=[3, 4]).update(diameter="25 mm")
    programmer.units = "in"
    programmer.save()
    assert "a drill of ⌀0.2598 in" in shown(desk.get(url("plan", planned.pk)))
