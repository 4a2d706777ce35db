"""The plan: proposed, bent by people, proposed again without losing what they did, approved as it was seen."""

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from shopflow.core.errors import NotPossible
from shopflow.core.measure import parse
from shopflow.jobs import actions, queries
from shopflow.jobs.actions.plan import typed_length
from shopflow.jobs.models import Job, Setup, Stage, Step
from shopflow.people.models import Role
from shopflow.records import ledger
from shopflow.shop import changes
from tests.jobs.objects import a_crib, a_job, a_machine, a_material, a_read_job, a_tool
from tests.people_fixtures import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    """Two jobs whose model is read, in a shop with a machine and a few tools; the second is planned."""
    a_machine()
    a_crib()
    planner = make_person("the_planner", Role.PROGRAMMER)
    job, planned = a_read_job(planner), a_read_job(planner)
    actions.propose_plan(planned, by=planner)
    return job.pk, planned.pk


@pytest.fixture
def job(made_once, db):
    return Job.objects.get(pk=made_once[0])


@pytest.fixture
def planned(made_once, db):
    return Job.objects.get(pk=made_once[1])


def routing(job):
    return [(step.op_number, step.kind) for step in queries.steps_of(job)]


def approve(job, by):
    return actions.approve_plan(job, by=by, seen=queries.plan_hash(job))


def test_a_proposed_routing_saws_mills_each_setup_deburrs_inspects_and_ships(planned):
    assert routing(planned) == [
        (10, "saw"), (20, "mill"), (30, "mill"), (40, "deburr"), (50, "inspect"), (60, "ship"),
    ]  # fmt: skip


def test_each_milling_step_has_its_setup_with_zero_and_offset(planned):
    setups = queries.setups_of(planned)
    assert [(setup.up, setup.work_offset_code) for setup in setups] == [("+Z", "G54"), ("-Z", "G55")]
    assert all(setup.machine and setup.zero and setup.workholding and setup.stock_in for setup in setups)


def test_the_blank_is_the_box_with_the_house_rules_on_it(planned):
    """60 × 40 × 12: + 2 × 2.5 on the sides; on top 1.5, below 4 to hold and 1 over the jaws, up to the next mm."""
    setup = queries.setups_of(planned)[0]
    assert [str(length) for length in (setup.blank_x, setup.blank_y, setup.blank_z)] == ["65 mm", "45 mm", "19 mm"]


def test_proposed_tools_come_from_the_crib(planned):
    numbers = [row.tool.number for row in queries.setups_of(planned)[0].setup_tools.all()]
    assert numbers == [1, 2, 5, 4, 6]


def test_somebody_in_inches_gets_the_blank_in_inches(job, programmer):
    programmer.units = "in"
    actions.propose_plan(job, by=programmer)
    assert str(job.setups.first().blank_x) == "2.5625 in"


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [(65.0, "mm", "65 mm"), (4.0, "mm", "4 mm"), (25.4, "in", "1 in"), (0.1 + 0.2, "mm", "0.3 mm")],
)
def test_a_computed_length_is_written_as_somebody_would_type_it(mm, units, text):
    assert str(typed_length(mm, units)) == text


def test_proposing_twice_changes_nothing(planned, programmer):
    before = queries.plan_facts(planned), list(planned.setups.values_list("pk", flat=True))
    actions.propose_plan(planned, by=programmer)
    assert (queries.plan_facts(planned), list(planned.setups.values_list("pk", flat=True))) == before


TYPED = [
    ("workholding", "soft jaws J7"),
    ("grip", parse("6 mm", default_unit="mm")),
    ("zero_point", "dowel hole"),
    ("blank_z", parse("3/4 in", default_unit="in")),
    ("work_offset", 4),
    ("pick_up", "probe"),
    ("stock_in", "customer's casting"),
    ("machine", None),
]


@pytest.mark.parametrize(("field", "value"), TYPED)
def test_what_a_person_typed_about_a_setup_stays_when_it_is_proposed_again(planned, programmer, field, value):
    setup = planned.setups.first()
    actions.change_setup(setup, by=programmer, **{field: value})
    actions.propose_plan(planned, by=programmer)
    setup.refresh_from_db()
    assert getattr(setup, field) == value


def test_what_nobody_typed_follows_the_new_proposal(planned, programmer):
    Setup.objects.filter(job=planned).update(workholding="out of date")
    actions.propose_plan(planned, by=programmer)
    assert "vise" in planned.setups.first().workholding


def test_freed_fields_are_proposed_again(planned, programmer):
    setup = planned.setups.first()
    actions.change_setup(setup, by=programmer, workholding="soft jaws J7")
    actions.release_fields(setup, by=programmer)
    actions.propose_plan(planned, by=programmer)
    setup.refresh_from_db()
    assert "vise" in setup.workholding


def test_minutes_a_person_typed_stay(planned, programmer):
    step = planned.steps.get(op_number=20)
    actions.change_step(step, by=programmer, minutes_each=Decimal("7.5"))
    actions.propose_plan(planned, by=programmer)
    step.refresh_from_db()
    assert step.minutes_each == Decimal("7.5")


def test_tools_a_person_picked_stay(planned, programmer):
    setup = planned.setups.first()
    own = a_tool(77, "own tool", "flat end mill", "3 mm")
    actions.add_tool(setup, by=programmer, tool=own, purpose="engrave")
    actions.propose_plan(planned, by=programmer)
    assert setup.setup_tools.filter(tool=own).exists()


def test_a_step_taken_out_does_not_come_back(planned, programmer):
    actions.remove_step(planned.steps.get(kind="saw"), by=programmer)
    actions.propose_plan(planned, by=programmer)
    assert "saw" not in [kind for _, kind in routing(planned)]


def test_ops_close_up_where_a_step_was_taken_out(planned, programmer):
    actions.remove_step(planned.steps.get(kind="saw"), by=programmer)
    closed_up = [(10, "mill"), (20, "mill"), (30, "deburr"), (40, "inspect"), (50, "ship")]
    assert routing(planned) == closed_up
    actions.propose_plan(planned, by=programmer)
    assert routing(planned) == closed_up


def test_ops_close_up_where_a_setup_was_taken_out(planned, programmer):
    actions.remove_setup(planned.setups.get(up="-Z"), by=programmer)
    assert routing(planned) == [(10, "saw"), (20, "mill"), (30, "deburr"), (40, "inspect"), (50, "ship")]


def test_a_typed_op_number_stays_where_a_step_was_taken_out(planned, programmer):
    actions.change_step(planned.steps.get(kind="deburr"), by=programmer, op_number=45)
    actions.remove_step(planned.steps.get(kind="saw"), by=programmer)
    assert routing(planned) == [(10, "mill"), (20, "mill"), (45, "deburr"), (50, "inspect"), (60, "ship")]


def test_a_setup_taken_out_goes_with_its_step_and_does_not_come_back(planned, programmer):
    actions.remove_setup(planned.setups.get(up="-Z"), by=programmer)
    actions.propose_plan(planned, by=programmer)
    assert [setup.up for setup in queries.setups_of(planned)] == ["+Z"]
    assert [kind for _, kind in routing(planned)].count("mill") == 1


def test_an_added_step_keeps_its_place(planned, programmer):
    added = actions.add_step(
        planned, by=programmer, kind="outside", title="anodise", after=planned.steps.get(kind="deburr")
    )
    actions.propose_plan(planned, by=programmer)
    kinds = [step.kind for step in queries.steps_of(planned)]
    assert kinds[kinds.index("deburr") + 1] == "outside"
    added.refresh_from_db()
    assert added.op_number == 50


def test_a_moved_step_keeps_its_place(planned, programmer):
    actions.move_step(planned.steps.get(kind="inspect"), by=programmer, up=True)
    actions.propose_plan(planned, by=programmer)
    assert [kind for _, kind in routing(planned)][-3:] == ["inspect", "deburr", "ship"]


def test_a_typed_op_number_stays(planned, programmer):
    actions.change_step(planned.steps.get(kind="deburr"), by=programmer, op_number=45)
    actions.propose_plan(planned, by=programmer)
    assert routing(planned)[3:] == [(45, "deburr"), (50, "inspect"), (60, "ship")]


def test_an_op_number_is_not_given_twice(planned, programmer):
    with pytest.raises(NotPossible, match="Op 10 is there already"):
        actions.change_step(planned.steps.get(kind="ship"), by=programmer, op_number=10)


def test_the_first_step_does_not_move_up(planned, programmer):
    before = routing(planned)
    actions.move_step(planned.steps.get(kind="saw"), by=programmer, up=True)
    assert routing(planned) == before


def test_an_added_setup_comes_with_its_step_after_the_last_milling_step(planned, programmer):
    setup = actions.add_setup(planned, by=programmer)
    kinds = [step.setup_id for step in queries.steps_of(planned) if step.kind == "mill"]
    assert kinds[-1] == setup.pk


def test_a_milling_step_does_not_come_without_a_setup(planned, programmer):
    with pytest.raises(NotPossible, match="add a setup"):
        actions.add_step(planned, by=programmer, kind="mill", title="mill")


def test_a_milling_step_does_not_go_without_its_setup(planned, programmer):
    with pytest.raises(NotPossible, match="take the setup out"):
        actions.remove_step(planned.steps.get(op_number=20), by=programmer)


def test_a_tool_is_picked_once_a_setup(planned, programmer):
    setup = planned.setups.first()
    with pytest.raises(NotPossible, match="already"):
        actions.add_tool(setup, by=programmer, tool=setup.tools.first())


def test_a_job_without_a_model_gets_the_usual_steps_to_fill_in(programmer):
    job = a_job(programmer, no_model_reason="paper print")
    actions.propose_plan(job, by=programmer)
    assert [kind for _, kind in routing(job)] == ["saw", "mill", "deburr", "inspect", "ship"]
    assert queries.setups_missing(job) == [
        "setup 1 lacks workholding, stock in, a machine, a part zero, tools",
    ]


def test_no_plan_is_proposed_before_the_model_is_read(programmer):
    with pytest.raises(NotPossible, match="No model was uploaded"):
        actions.propose_plan(a_job(programmer), by=programmer)


def test_a_manual_op_needs_no_machine_zero_or_tools(planned, programmer):
    setup = planned.setups.first()
    for row in setup.setup_tools.all():
        actions.drop_tool(row, by=programmer)
    actions.change_setup(setup, by=programmer, machine=None, zero_point="", manual_reason="drilled by hand")
    assert not queries.setups_missing(planned)


def test_a_tool_the_crib_lacks_is_named_until_its_operation_has_another(job, programmer):
    from shopflow.shop.models import Tool

    Tool.objects.filter(number__in=[2, 4]).update(on_hand=0)
    actions.propose_plan(job, by=programmer)
    assert any("a drill of ⌀6.6 mm" in want.what for want in queries.tools_missing(job))
    for setup in job.setups.all():
        actions.add_tool(setup, by=programmer, tool=Tool.objects.get(number=4))
        for row in setup.operations.filter(tool=None):
            actions.change_operation(row, by=programmer, tool=Tool.objects.get(number=4))
    assert queries.tools_missing(job) == []
    assert [line.tool.number for line in queries.tools_lacking(job)] == [4]


def test_an_approved_plan_holds_as_long_as_nothing_in_it_changes(planned, programmer):
    approve(planned, programmer)
    assert queries.is_plan_approved(planned)
    assert [row.kind for row in ledger.rows_for(planned.chain)][-1] == "plan_approved"


BENT = [
    lambda job, by: actions.change_setup(job.setups.first(), by=by, workholding="clamps"),
    lambda job, by: actions.change_setup(job.setups.first(), by=by, up="+X", along_x="+Y"),
    lambda job, by: actions.change_setup(job.setups.first(), by=by, grip=parse("5", default_unit="mm")),
    lambda job, by: actions.change_setup(job.setups.first(), by=by, zero_point="corner"),
    lambda job, by: actions.change_setup(job.setups.first(), by=by, blank_x=parse("70", default_unit="mm")),
    lambda job, by: actions.change_setup(job.setups.first(), by=by, machine=None),
    lambda job, by: actions.change_setup(job.setups.first(), by=by, work_offset=6),
    lambda job, by: actions.change_setup(job.setups.first(), by=by, manual_reason="by hand"),
    lambda job, by: actions.add_touch(job.setups.first(), by=by, reason="move the clamp"),
    lambda job, by: actions.drop_tool(job.setups.first().setup_tools.first(), by=by),
    lambda job, by: actions.add_step(job, by=by, kind="outside", title="anodise"),
    lambda job, by: actions.move_step(job.steps.get(kind="inspect"), by=by, up=True),
    lambda job, by: actions.remove_step(job.steps.get(kind="saw"), by=by),
    lambda job, by: actions.change_step(job.steps.get(kind="deburr"), by=by, instructions="0.2 mm"),
    lambda job, by: actions.remove_setup(job.setups.last(), by=by),
    lambda job, by: actions.save_characteristics(job, [actions.CharacteristicLine(name="width")], by=by),
]


@pytest.mark.parametrize("bend", BENT)
def test_an_approval_ends_when_the_plan_is_changed(planned, programmer, bend):
    approve(planned, programmer)
    bend(planned, programmer)
    assert not queries.is_plan_approved(Job.objects.get(pk=planned.pk))


UNBOUND = [
    lambda job, by: actions.change_step(job.steps.get(kind="saw"), by=by, minutes_each=Decimal("9")),
    lambda job, by: actions.change_setup(job.setups.first(), by=by, pick_up="probe"),
    lambda job, by: actions.ask_question(job, by=by, text="Finish?", holds_job=False),
]


@pytest.mark.parametrize("change", UNBOUND)
def test_an_approval_outlives_what_changes_no_part(planned, programmer, change):
    approve(planned, programmer)
    change(planned, programmer)
    assert queries.is_plan_approved(planned)


def test_a_plan_that_changed_back_is_approved_again(planned, programmer):
    approve(planned, programmer)
    setup = planned.setups.first()
    actions.change_setup(setup, by=programmer, zero_point="corner")
    actions.change_setup(setup, by=programmer, zero_point=setup.zero_point)
    assert queries.is_plan_approved(planned)


def test_a_plan_is_approved_only_as_it_was_seen(planned, programmer):
    seen = queries.plan_hash(planned)
    actions.change_setup(planned.setups.first(), by=programmer, workholding="clamps")
    with pytest.raises(NotPossible, match="while you looked"):
        actions.approve_plan(planned, by=programmer, seen=seen)


def test_a_plan_without_steps_is_not_approved(programmer):
    with pytest.raises(NotPossible, match="no step"):
        approve(a_job(programmer), programmer)


@pytest.mark.parametrize("role", ["reviewer", "machinist", "inspector", "viewer"])
def test_only_the_desk_plans(everybody, planned, role):
    for act in (actions.propose_plan, actions.add_setup):
        with pytest.raises(PermissionDenied):
            act(planned, by=everybody[role])
    with pytest.raises(PermissionDenied):
        approve(planned, everybody[role])


def test_a_plan_is_not_changed_on_the_floor(planned, programmer):
    Job.objects.filter(pk=planned.pk).update(stage=Stage.FLOOR)
    with pytest.raises(NotPossible, match="on the floor"):
        actions.change_setup(planned.setups.first(), by=programmer, workholding="clamps")


HEARD = [
    lambda job, by: actions.propose_plan(job, by=by),
    lambda job, by: actions.change_setup(job.setups.first(), by=by, zero_point="corner"),
    lambda job, by: actions.add_touch(job.setups.first(), by=by, reason="look"),
    lambda job, by: actions.add_setup(job, by=by),
]


@pytest.mark.parametrize("bend", HEARD)
def test_what_a_sign_off_may_rest_on_is_announced(planned, programmer, bend, monkeypatch):
    heard = []
    monkeypatch.setattr(changes, "_listeners", [lambda by, jobs: heard.append((by, list(jobs)))])
    bend(planned, programmer)
    assert heard == [(programmer, [planned.pk])]


def test_changed_material_is_announced(programmer, monkeypatch):
    from tests.jobs.objects import an_order

    heard = []
    job = a_job(programmer)
    monkeypatch.setattr(changes, "_listeners", [lambda by, jobs: heard.append(list(jobs))])
    actions.change_order(job, an_order(material=a_material()), by=programmer)
    assert heard == [[job.pk]]


def test_the_step_is_called_as_its_setup_unless_somebody_named_it(planned, programmer):
    first, second = planned.setups.all()
    actions.change_step(Step.objects.get(setup=second), by=programmer, title="second side, my way")
    for setup in (first, second):
        actions.change_setup(setup, by=programmer, title="new title")
    assert [Step.objects.get(setup=s).title for s in (first, second)] == ["new title", "second side, my way"]


def test_what_was_taken_out_comes_back_when_a_person_wants_it(planned, programmer):
    actions.remove_step(planned.steps.get(kind="saw"), by=programmer)
    actions.remove_setup(planned.setups.get(up="-Z"), by=programmer)
    actions.bring_back(planned, by=programmer)
    actions.propose_plan(planned, by=programmer)
    assert [kind for _, kind in routing(planned)] == ["saw", "mill", "mill", "deburr", "inspect", "ship"]


def test_a_step_added_again_is_no_longer_left_out(planned, programmer):
    actions.remove_step(planned.steps.get(kind="saw"), by=programmer)
    actions.add_step(planned, by=programmer, kind="saw", title="saw")
    assert Job.objects.get(pk=planned.pk).left_out == []


def test_a_setup_with_a_program_is_not_taken_out(planned, programmer):
    from shopflow.programs.models import Program

    setup = planned.setups.first()
    Program.objects.create(job=planned, name="O1001").setups.add(setup)
    with pytest.raises(NotPossible, match="has a program"):
        actions.remove_setup(setup, by=programmer)


def test_a_newer_model_ends_the_approval(planned, programmer):
    from tests.jobs.objects import STEP_HEAD, an_upload

    approve(planned, programmer)
    actions.add_file(planned, an_upload(STEP_HEAD + b"#9=X();"), by=programmer, kind="model")
    assert not queries.is_plan_approved(Job.objects.get(pk=planned.pk))


def test_what_a_person_changes_in_the_crib_shows_in_what_is_missing(planned):
    from shopflow.shop.models import Tool

    assert queries.tools_missing(planned) == []
    Tool.objects.filter(number=4).update(diameter="7 mm")
    assert any("⌀6.6 mm" in want.what for want in queries.tools_missing(planned))


@pytest.mark.parametrize(
    ("rule", "value", "sizes"),
    [
        ("plan_side_allowance", "4", ["68 mm", "48 mm", "19 mm"]),
        ("plan_top_allowance", "3", ["65 mm", "45 mm", "20 mm"]),
        ("plan_grip", "8", ["65 mm", "45 mm", "23 mm"]),
    ],
)
def test_the_house_rules_decide_the_blank(job, programmer, rule, value, sizes):
    from shopflow.shop.models import HouseRule

    HouseRule.objects.create(key=rule, value=value)
    actions.propose_plan(job, by=programmer)
    setup = job.setups.first()
    assert [str(length) for length in (setup.blank_x, setup.blank_y, setup.blank_z)] == sizes
