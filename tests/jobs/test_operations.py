"""Operations of a setup: proposed, bent by people, proposed again without losing what they did; tools to buy."""

import datetime as dt
import re
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.core.measure import parse, parse_quantity
from shopflow.core.planning import latest_start
from shopflow.jobs import actions, queries
from shopflow.jobs.forms.characteristics import CharacteristicForm
from shopflow.jobs.models import Job, Operation, Step, TimeTaken
from shopflow.people.models import Role
from shopflow.records.models import LedgerRow
from shopflow.shop.models import CuttingData, Gauge, Machine, Tool
from tests.jobs.objects import a_planned_job
from tests.people_fixtures import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    return a_planned_job(make_person("the_planner", Role.LEAD, Role.PROGRAMMER)).pk


@pytest.fixture
def planned(made_once, db):
    return Job.objects.get(pk=made_once)


def first_setup(job):
    return queries.setups_of(Job.objects.get(pk=job.pk))[0]


def operations(job):
    return list(first_setup(job).operations.all())


def the(kind, job):
    return next(row for row in operations(job) if row.kind == kind)


def again(job, by):
    actions.propose_plan(Job.objects.get(pk=job.pk), by=by)


def kinds(job):
    return [row.kind for row in operations(job)]


def test_a_setup_is_faced_roughed_finished_spotted_drilled_and_its_edges_broken(planned):
    assert kinds(planned) == ["face", "rough", "finish walls", "spot", "drill", "break edges"]


def test_each_operation_has_its_speed_feed_minutes_and_where_they_come_from(planned):
    drill = the("drill", planned)
    assert drill.rpm and drill.feed and drill.minutes > 0
    assert "a navy training manual" in drill.source


def test_the_tools_of_a_setup_are_those_of_its_operations(planned):
    rows = operations(planned)
    picked = set(first_setup(planned).setup_tools.values_list("tool__number", flat=True))
    assert picked == {row.tool.number for row in rows}


def test_a_step_takes_loading_operations_and_tool_changes(planned):
    setup = first_setup(planned)
    cut = sum(row.minutes for row in setup.operations.all())
    assert Decimal(1) + cut < setup.step.minutes_each < Decimal(1) + cut + Decimal(2)


def test_proposing_again_changes_nothing(planned, programmer):
    before = list(Operation.objects.order_by("pk").values())
    again(planned, programmer)
    assert list(Operation.objects.order_by("pk").values()) == before


@pytest.mark.parametrize(
    ("field", "value"),
    [("rpm", 1234), ("feed", parse("77 mm", default_unit="mm")), ("minutes", Decimal("9.5")), ("what", "these two")],
)
def test_what_a_person_typed_about_an_operation_stays_when_it_is_proposed_again(planned, programmer, field, value):
    actions.change_operation(the("drill", planned), by=programmer, **{field: value})
    again(planned, programmer)
    assert getattr(the("drill", planned), field) == value


def typed_line(name, nominal, lower, upper):
    return actions.CharacteristicLine(name=name, nominal=mm(nominal), lower=mm(lower), upper=mm(upper))


@pytest.mark.parametrize(
    ("name", "is_reamed"), [("4 × hole ⌀", True), ("dia 6.6 thru", True), ("hole depth", False), ("width", False)]
)
def test_a_close_diameter_that_a_person_typed_is_reamed_and_other_sizes_are_not(planned, programmer, name, is_reamed):
    actions.save_characteristics(planned, [typed_line(name, "6.6", "6.6", "6.615")], by=programmer)
    again(planned, programmer)
    assert ("ream" in kinds(planned)) == is_reamed


def test_an_angle_at_a_hole_is_no_size_of_it(planned, programmer):
    nominal, lower, upper = (parse_quantity(f"{angle}°", default_unit="mm") for angle in ("90", "89.5", "90.5"))
    line = actions.CharacteristicLine(name="hole, its cone", nominal=nominal, lower=lower, upper=upper, kind="angle")
    actions.save_characteristics(planned, [line], by=programmer)
    before = kinds(planned)
    again(planned, programmer)
    assert kinds(planned) == before


@pytest.mark.parametrize(
    ("nominal", "typed", "limits"),
    [("8 mm", "H7", ("8.000 mm", "8.015 mm")), ("1 in", "h7", ("1.00000 in", "1.00083 in")), ("8", "p7", None)],
)
def test_a_class_typed_beside_a_size_fills_in_its_limits_or_says_what_to_type(nominal, typed, limits):
    """ISO 286-1 table 1: IT7 is 15 µm at 8 mm and 21 µm at 25.4 mm, that is 0.00083 in."""
    none = {"step": (Step.objects.none(), []), "gauge": (Gauge.objects.none(), [])}
    form = CharacteristicForm({"name": "bore", "nominal": nominal, "plus_minus": typed}, unit="mm", shared=none)
    found = tuple(str(form.cleaned_data[name]) for name in ("lower", "upper")) if form.is_valid() else None
    assert (found, "plus_minus" in form.errors) == (limits, limits is None)


def mm(value):
    return parse(f"{value} mm", default_unit="mm")


@pytest.mark.parametrize("field", ["axial", "radial"])
def test_a_pass_that_a_person_typed_stays_and_its_minutes_follow(planned, programmer, field):
    before = the("rough", planned)
    half = mm(getattr(before, field).value / 2)
    changed = actions.change_operation(before, by=programmer, **{field: half})
    again(planned, programmer)
    row = the("rough", planned)
    assert (getattr(row, field), row.minutes) == (half, changed.minutes)
    assert row.minutes > before.minutes


def test_a_pass_left_empty_is_proposed_again(planned, programmer):
    before = the("rough", planned)
    typed = actions.change_operation(before, by=programmer, axial=mm(2))
    assert actions.change_operation(typed, by=programmer, axial=None).axial == before.axial


def test_a_pass_wider_than_the_tool_is_refused_and_nothing_is_kept(planned, programmer):
    row = the("rough", planned)
    with pytest.raises(NotPossible, match="wider than that"):
        actions.change_operation(row, by=programmer, radial=mm(100))
    assert the("rough", planned).fixed == row.fixed


def test_a_typed_pass_lapses_the_approval_of_the_plan(planned, programmer):
    before = queries.plan_hash(planned)
    actions.change_operation(the("rough", planned), by=programmer, axial=mm(2))
    assert queries.plan_hash(planned) != before


def test_the_page_says_why_a_pass_is_refused_and_keeps_what_was_typed(planned, client, programmer):
    client.force_login(programmer)
    row = the("rough", planned)
    page = reverse("jobs:operation", args=[row.pk])
    shown = client.get(page).context["form"]
    typed = {name: shown[name].value() or "" for name in shown.fields} | {"axial": "99 mm"}
    answer = client.post(page, typed)
    assert answer.status_code == 422
    assert "deep" in answer.text and 'value="99 mm"' in answer.text


def test_a_drill_is_asked_for_its_pecks_and_not_for_a_pass(planned, client, programmer):
    client.force_login(programmer)
    shown = client.get(reverse("jobs:operation", args=[the("drill", planned).pk])).context["form"]
    assert "axial" not in shown.fields


def test_another_tool_stays_and_gets_its_own_speed(planned, programmer):
    other = Tool.objects.get(number=3)
    before = the("rough", planned).rpm
    actions.change_operation(the("rough", planned), by=programmer, tool=other)
    again(planned, programmer)
    row = the("rough", planned)
    assert (row.tool, row.rpm > before) == (other, True)


def test_another_tool_is_among_the_setup_s_tools(planned, programmer):
    actions.change_operation(the("rough", planned), by=programmer, tool=Tool.objects.get(number=3))
    assert first_setup(planned).setup_tools.filter(tool__number=3).exists()


def test_half_the_feed_takes_longer(planned, programmer):
    drill = the("drill", planned)
    slower = parse(f"{drill.feed.value / 2} mm", default_unit="mm")
    assert actions.change_operation(drill, by=programmer, feed=slower).minutes > drill.minutes


def test_minutes_of_the_step_follow_an_operation(planned, programmer):
    before = first_setup(planned).step.minutes_each
    actions.change_operation(the("drill", planned), by=programmer, minutes=Decimal(30))
    assert first_setup(planned).step.minutes_each > before + 25


def test_pecks_that_a_person_typed_stay(planned, programmer):
    first = parse("5 mm", default_unit="mm")
    actions.change_operation(the("drill", planned), by=programmer, peck_first=first, peck_next=first)
    again(planned, programmer)
    assert the("drill", planned).peck_first == first


def test_an_operation_taken_out_does_not_come_back(planned, programmer):
    actions.remove_operation(the("break edges", planned), by=programmer)
    again(planned, programmer)
    assert "break edges" not in kinds(planned)


def test_what_was_taken_out_is_named_on_the_plan(client, planned, programmer):
    actions.remove_operation(the("break edges", planned), by=programmer)
    client.force_login(programmer)
    assert "edges with +Z up" in client.get(reverse("jobs:plan", args=[planned.pk])).text


def test_what_was_taken_out_is_brought_back(planned, programmer):
    actions.remove_operation(the("break edges", planned), by=programmer)
    actions.bring_back(planned, by=programmer)
    again(planned, programmer)
    assert "break edges" in kinds(planned)


def test_an_added_operation_stays(planned, programmer):
    actions.add_operation(first_setup(planned), by=programmer, kind="chamfer", what="engrave the number")
    again(planned, programmer)
    assert kinds(planned)[-1] == "chamfer"


def test_an_order_that_a_person_chose_stays(planned, programmer):
    actions.move_operation(the("drill", planned), by=programmer, up=False)
    again(planned, programmer)
    assert kinds(planned) == ["face", "rough", "finish walls", "spot", "break edges", "drill"]


def test_the_first_operation_does_not_move_up(planned, programmer):
    actions.move_operation(the("face", planned), by=programmer, up=True)
    assert kinds(planned)[0] == "face"


def test_freed_fields_of_operations_are_proposed_again(planned, programmer):
    actions.change_operation(the("drill", planned), by=programmer, rpm=1234)
    actions.change_setup(first_setup(planned), by=programmer, title="mine")
    actions.release_fields(first_setup(planned), by=programmer)
    again(planned, programmer)
    assert the("drill", planned).rpm != 1234


def test_a_setup_whose_tools_a_person_picked_is_cut_with_those(planned, programmer):
    setup = first_setup(planned)
    row = next(row for row in setup.setup_tools.all() if row.tool.shape == "chamfer mill")
    actions.drop_tool(row, by=programmer)
    actions.release_fields(setup, by=programmer)
    setup.refresh_from_db()
    setup.fixed = ["tools"]
    setup.save()
    again(planned, programmer)
    assert "break edges" not in kinds(planned)


def test_a_dropped_tool_leaves_its_operation_without_one(planned, programmer):
    row = next(row for row in first_setup(planned).setup_tools.all() if row.tool.shape == "drill")
    actions.drop_tool(row, by=programmer)
    assert the("drill", planned).tool is None


def test_another_machine_turns_within_its_own_limit(planned, programmer):
    Machine.objects.create(name="slow", travel_x="500 mm", travel_y="400 mm", travel_z="400 mm", max_rpm=1000)
    actions.change_setup(first_setup(planned), by=programmer, machine=Machine.objects.get(name="slow"))
    assert max(row.rpm for row in operations(planned)) == 1000


def test_the_shop_s_own_numbers_are_taken(planned, programmer):
    CuttingData.objects.create(number=1, group="aluminium", uses=["drill"], speed_usual="20", reason="tried")
    again(planned, programmer)
    row = the("drill", planned)
    assert "this shop's own: tried" in row.source
    assert row.rpm == round(20000 / 3.14159265 / 6.6)


def test_a_machinist_changes_no_operation(planned, machinist):
    with pytest.raises(PermissionDenied):
        actions.change_operation(the("drill", planned), by=machinist, rpm=10)


def test_a_change_stands_in_the_history(planned, programmer):
    actions.change_operation(the("drill", planned), by=programmer, rpm=1234)
    assert LedgerRow.objects.filter(kind="operation_changed").get().data["fields"] == ["rpm"]


def test_an_approval_ends_when_a_speed_is_changed(planned, programmer):
    actions.approve_plan(planned, by=programmer, seen=queries.plan_hash(planned))
    actions.change_operation(the("drill", planned), by=programmer, rpm=1234)
    assert not queries.is_plan_approved(Job.objects.get(pk=planned.pk))


def test_times_that_lots_took_correct_the_minutes_of_the_next_plan(planned, programmer):
    step = first_setup(planned).step
    before = step.minutes_each
    machine = step.setup.machine
    for lot in range(20):
        TimeTaken.objects.create(
            step=step, lot=lot, machine=machine, group="aluminium", pieces=10, planned=10, actual=20
        )
    again(planned, programmer)
    assert first_setup(planned).step.minutes_each > before * Decimal("1.6")


@pytest.mark.parametrize(("lots", "words"), [(1, "what 1 lot on this machine"), (2, "what 2 lots on this machine")])
def test_the_page_of_a_setup_says_how_far_its_minutes_are_corrected(planned, programmer, client, lots, words):
    step = first_setup(planned).step
    for lot in range(lots):
        TimeTaken.objects.create(
            step=step, lot=lot, machine=step.setup.machine, group="aluminium", pieces=10, planned=10, actual=20
        )
    client.force_login(programmer)
    page = client.get(reverse("jobs:setup", args=[step.setup.pk]))
    assert words in page.content.decode()


# Tools to buy


@pytest.fixture
def without_a_drill(planned, programmer):
    Tool.objects.filter(number=4).update(on_hand=0)
    again(planned, programmer)
    return Job.objects.get(pk=planned.pk)


def test_a_tool_that_the_crib_lacks_is_bought_with_its_size(without_a_drill):
    wants = queries.to_buy(without_a_drill)
    assert [want.what for want in wants] == ["a drill of ⌀6.6 mm that reaches 12 mm deep"]


def test_a_tool_of_the_plan_that_was_used_up_is_bought_too(planned):
    Tool.objects.filter(number=4).update(on_hand=0)
    assert [want.tool.number for want in queries.to_buy(planned)] == [4]


def test_a_tool_is_needed_when_the_job_has_to_start(without_a_drill):
    assert queries.to_buy()[0].by == queries.needed_by(without_a_drill) < without_a_drill.due_on


def test_a_job_that_is_closed_buys_nothing(without_a_drill):
    Job.objects.update(stage="closed")
    assert queries.to_buy() == []


@pytest.mark.parametrize(
    ("minutes", "start"), [(10, dt.date(2026, 11, 27)), (421, dt.date(2026, 11, 26)), (5 * 420, dt.date(2026, 11, 23))]
)
def test_the_start_is_counted_back_over_working_days(minutes, start):
    """Due on Monday 30 November 2026: the day before is Friday the 27th."""
    assert latest_start(dt.date(2026, 11, 30), minutes) == start


# Pages


def test_the_setup_lists_its_operations_with_speeds(client, programmer, planned):
    client.force_login(programmer)
    page = client.get(reverse("jobs:setup", args=[first_setup(planned).pk]))
    assert "finish walls" in page.text and str(the("drill", planned).rpm) in page.text


def test_an_operation_sent_back_as_it_was_shown_fixes_nothing(client, programmer, planned):
    client.force_login(programmer)
    row = the("drill", planned)
    url = reverse("jobs:operation", args=[row.pk])
    form = client.get(url).context["form"]
    typed = {bound.name: bound.value() for bound in form if bound.value() not in (None, "")}
    assert client.post(url, typed).status_code == 302
    row.refresh_from_db()
    assert row.fixed == []


def test_what_is_typed_on_the_page_of_an_operation_is_kept(client, programmer, planned):
    client.force_login(programmer)
    row = the("drill", planned)
    url = reverse("jobs:operation", args=[row.pk])
    client.post(url, {"what": row.what, "tool": row.tool_id, "rpm": 900, "feed": "0.1 in", "minutes": ""})
    row.refresh_from_db()
    assert (row.rpm, str(row.feed)) == (900, "0.1 in")


def test_a_feed_that_is_no_length_is_said_at_its_field(client, programmer, planned):
    client.force_login(programmer)
    url = reverse("jobs:operation", args=[the("drill", planned).pk])
    assert client.post(url, {"what": "x", "feed": "fast"}).status_code == 422


def test_the_list_of_tools_to_buy_names_the_job(client, viewer, without_a_drill):
    client.force_login(viewer)
    assert without_a_drill.number in client.get(reverse("jobs:to_buy")).text


def test_the_list_of_tools_to_buy_says_when_there_is_none(client, viewer):
    client.force_login(viewer)
    assert "No plan waits for a tool" in client.get(reverse("jobs:to_buy")).text


def test_what_is_typed_beside_the_setup_adds_an_operation(client, programmer, planned):
    client.force_login(programmer)
    setup = first_setup(planned)
    typed = {"new-kind": "chamfer", "new-what": "engrave the number", "new-tool": ""}
    client.post(reverse("jobs:add_operation", args=[setup.pk]), typed)
    assert setup.operations.filter(what="engrave the number").exists()


def test_no_two_fields_of_a_setup_s_page_share_an_id(client, programmer, planned):
    client.force_login(programmer)
    page = client.get(reverse("jobs:setup", args=[first_setup(planned).pk])).text
    ids = re.findall(r'\bid="(id_[^"]+)"', page)
    assert len(ids) == len(set(ids))
