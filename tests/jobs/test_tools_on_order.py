"""Tools on order: what holds a plan, what a lead may let it count on, and the way of a tool into the crib."""

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse
from django.utils import timezone

from shopflow.core.errors import NotPossible
from shopflow.core.planning import OperationKind, crib_row
from shopflow.jobs import actions, queries
from shopflow.jobs.models import Job, Operation, ToolOrder
from shopflow.people.models import Role
from shopflow.records.models import LedgerRow
from shopflow.shop.models import Tool
from shopflow.workflow import gates
from tests.jobs.objects import a_planned_job
from tests.people_fixtures import make_person

pytestmark = pytest.mark.django_db
DRILL = "a drill of ⌀6.6 mm that reaches 12 mm deep"


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    lead = make_person("the_planner", Role.LEAD, Role.PROGRAMMER)
    job = a_planned_job(lead)
    Tool.objects.filter(number=4).update(on_hand=0)
    actions.propose_plan(Job.objects.get(pk=job.pk), by=lead)
    return job.pk


@pytest.fixture
def waiting(made_once, db):
    return Job.objects.get(pk=made_once)


def today(plus=0):
    return timezone.localdate() + dt.timedelta(days=plus)


def order(by, *, days=5, **changes):
    return actions.order_tool(DRILL, by=by, due_on=today(days), **changes)


def planned(job):
    return [(c.text, c.met) for c in gates.plan_gate(job) if "6.6" in c.text]


def a_drill(number=44, **changes):
    given = {"name": "drill", "shape": "drill", "diameter": "6.6 mm", "flute_length": "60 mm", "stickout": "70 mm"}
    return Tool(number=number, point_angle=118, **{**given, **changes})


def test_a_tool_that_is_not_in_the_crib_holds_the_plan_by_its_name_with_where_to_mend_it(waiting):
    held = next(c for c in gates.plan_gate(waiting) if "6.6" in c.text)
    assert (held.met, held.reason) == (False, "not in the crib and not on order")
    assert held.mend == f"{reverse('jobs:to_buy')}#{queries.to_buy(waiting)[0].anchor}"


def test_a_tool_on_order_holds_the_plan_until_a_lead_counts_on_its_day(waiting, programmer, lead):
    found = order(programmer)
    assert planned(waiting) == [(f"in the crib: {DRILL}", False)]
    actions.count_on(found, by=lead)
    assert [met for _text, met in planned(waiting)] == [True]


def test_the_gate_names_the_lead_who_counts_on_it(waiting, lead):
    order(lead, is_accepted=True)
    assert str(lead) in planned(waiting)[0][0]


def test_a_programmer_cannot_let_a_plan_count_on_a_tool_on_order(waiting, programmer):
    with pytest.raises(PermissionDenied):
        actions.count_on(order(programmer), by=programmer)


def test_another_day_needs_the_leads_word_again(waiting, programmer, lead):
    order(lead, is_accepted=True)
    order(programmer, days=9)
    assert planned(waiting) == [(f"in the crib: {DRILL}", False)]


def test_another_supplier_for_the_same_day_does_not(waiting, programmer, lead):
    order(lead, is_accepted=True)
    order(programmer, supplier="the other one")
    assert [met for _text, met in planned(waiting)] == [True]


def test_a_day_that_went_by_holds_the_plan_again(waiting, lead):
    found = order(lead, is_accepted=True)
    ToolOrder.objects.filter(pk=found.pk).update(ordered_on=today(-9), due_on=today(-1))
    held = next(c for c in gates.plan_gate(waiting) if "6.6" in c.text)
    assert not held.met and "was to come on" in held.reason


def test_the_release_waits_for_what_the_plan_could_count_on(waiting, lead):
    order(lead, is_accepted=True)
    held = next(c for c in gates.release_gate(waiting) if c.text == f"on hand: {DRILL}")
    assert not held.met and "on order, comes" in held.reason


def test_a_tool_cannot_come_before_it_is_ordered(waiting, lead):
    with pytest.raises(NotPossible, match="before it is ordered"):
        order(lead, days=-1, ordered_on=today())


def test_a_number_for_a_tool_on_order_puts_it_into_the_plans_that_wait(waiting, lead):
    found = order(lead)
    actions.put_in_crib(found, a_drill(), by=lead)
    assert Operation.objects.get(setup__job=waiting, kind="drill").tool.number == 44
    assert [line.what for line in queries.to_buy(waiting)] == ["T44 drill"]
    assert queries.to_buy(waiting)[0].order == found


def test_a_tool_with_a_number_and_none_on_hand_holds_the_release_alone(waiting, lead):
    actions.put_in_crib(order(lead), a_drill(on_hand=0), by=lead)
    assert ("its tools exist in the crib", True) in [(c.text, c.met) for c in gates.plan_gate(waiting)]
    assert any(c.text == "on hand: T44 drill" and not c.met for c in gates.release_gate(waiting))


def test_a_plan_proposed_again_keeps_a_tool_that_is_on_order(waiting, lead):
    actions.put_in_crib(order(lead), a_drill(), by=lead)
    actions.propose_plan(waiting, by=lead)
    assert Operation.objects.get(setup__job=waiting, kind="drill").tool.number == 44


def test_what_came_is_on_hand_and_holds_nothing(waiting, lead):
    found = order(lead)
    actions.put_in_crib(found, a_drill(on_hand=0), by=lead)
    actions.receive_tool(found, by=lead, quantity=3)
    assert Tool.objects.get(number=44).on_hand == 3
    assert queries.tools_lacking(waiting) == []


def test_what_came_without_a_number_gets_its_row_then(waiting, lead):
    actions.receive_tool(order(lead), by=lead, quantity=2, tool=a_drill())
    assert Tool.objects.get(number=44).on_hand == 2
    assert queries.tools_lacking(waiting) == []


def test_a_tool_comes_only_once(waiting, lead):
    found = order(lead)
    actions.receive_tool(found, by=lead, quantity=1, tool=a_drill())
    with pytest.raises(NotPossible, match="received or taken back"):
        actions.receive_tool(found, by=lead, quantity=1)


def test_an_order_that_was_taken_back_leaves_the_plan_waiting(waiting, lead):
    actions.drop_order(order(lead, is_accepted=True), by=lead)
    assert planned(waiting) == [(f"in the crib: {DRILL}", False)]


def test_each_step_of_an_order_stands_in_the_history(waiting, lead):
    actions.receive_tool(order(lead, is_accepted=True), by=lead, quantity=1, tool=a_drill())
    kinds = LedgerRow.objects.filter(subject_kind="tool_order").values_list("kind", flat=True)
    assert list(kinds.order_by("seq")) == ["tool_ordered", "tool_counted_on", "tool_received"]


def test_the_row_of_the_crib_begins_with_what_the_plan_knows():
    assert crib_row(DRILL) == crib_row(DRILL, OperationKind.BORE)
    row = crib_row(DRILL)
    assert (row.shape, row.diameter, row.flute_length) == ("drill", "6.6 mm", "12 mm")


def test_the_row_of_a_tap_begins_with_its_thread():
    row = crib_row("a tap M6", OperationKind.TAP)
    assert (row.shape, row.diameter, row.pitch) == ("tap", "6 mm", "1 mm")  # ISO 261: M6 coarse, pitch 1 mm


def test_the_page_of_an_order_keeps_what_was_typed(client, waiting, lead):
    client.force_login(lead)
    url = f"{reverse('jobs:order_tool')}?what={DRILL}"
    day = today(3).isoformat()
    sent = client.post(
        url, {"supplier": "by post", "ordered_on": today().isoformat(), "due_on": day, "is_accepted": "on"}
    )
    made = ToolOrder.objects.get()
    assert (sent.status_code, made.supplier, made.accepted_by) == (302, "by post", lead)


def test_the_page_of_an_order_without_a_day_asks_for_it(client, waiting, lead):
    client.force_login(lead)
    assert client.post(f"{reverse('jobs:order_tool')}?what={DRILL}", {"due_on": ""}).status_code == 422


def test_the_page_of_a_tool_that_came_is_filled_in_and_saves_it(client, waiting, lead):
    client.force_login(lead)
    url = reverse("jobs:receive_tool", args=[order(lead).pk])
    form = client.get(url).context["form"]
    typed = {bound.name: bound.value() for bound in form if bound.value() not in (None, "", [])}
    assert (typed["diameter"], typed["shape"], typed["on_hand"]) == ("6.6 mm", "drill", 1)
    typed |= {"number": 44, "flute_length": "40 mm", "point_angle": "118"}
    assert client.post(url, typed).status_code == 302
    assert Tool.objects.get(number=44).on_hand == 1
