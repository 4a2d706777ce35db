"""What a review makes of the minutes and the order that the plan's operations have."""

from decimal import Decimal

from shopflow.jobs.models import Operation
from shopflow.programs import queries
from shopflow.programs.inputs import from_plain, inputs_of
from shopflow.shop.models import Tool
from tests.programs.objects import a_program, upload

TWO_TOOLS = a_program(depth=3)


def planned_minutes(job, *minutes):
    """The inputs of a program whose one setup has operations of these minutes."""
    for each in minutes:
        Operation.objects.create(setup=job.setups.get(), kind="rough", what="outside", minutes=each)
    return inputs_of(upload(job, by=job.created_by, reviewed=False)).plan.minutes


def test_a_review_knows_how_long_the_plan_takes_the_program_to_run(job):
    assert planned_minutes(job, Decimal("1.25"), Decimal("0.5")) == 1.75


def test_a_plan_that_knows_the_minutes_of_some_operations_only_says_nothing_about_the_whole(job):
    assert planned_minutes(job, Decimal("1.25"), None) == 0


def test_a_program_that_runs_far_longer_than_planned_is_told(job, owner):
    Operation.objects.create(setup=job.setups.get(), kind="rough", what="outside", minutes=Decimal("0.01"))
    assert "time-over-plan" in [finding.code for finding in queries.findings(upload(job, by=owner))]


def in_this_order(job, *numbers):
    for position, number in enumerate(numbers):
        tool = Tool.objects.get(number=number)
        Operation.objects.create(setup=job.setups.get(), kind="rough", what="it", position=position, tool=tool)


def found_in(job, owner):
    return {finding.code: finding.message for finding in queries.findings(upload(job, TWO_TOOLS, by=owner))}


def test_tools_in_another_order_than_the_operations_are_told(job, owner):
    in_this_order(job, 2, 1)
    told = found_in(job, owner)["tools-in-other-order"]
    assert told == "T1 comes before T2 in G54; the plan's operations have T2 first."


def test_tools_in_the_order_of_the_operations_are_no_matter(job, owner):
    in_this_order(job, 1, 2, 1)
    assert "tools-in-other-order" not in found_in(job, owner)


def test_inputs_of_a_review_from_before_a_later_value_existed_are_still_read(job, owner):
    asked = inputs_of(upload(job, by=owner, reviewed=False)).plain
    earlier = {name: value for name, value in asked.items() if name not in ("material", "own_data")}
    assert from_plain(earlier).own_data == ()
