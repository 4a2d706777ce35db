"""What a review makes of the minutes that the plan has for a program."""

from decimal import Decimal

from shopflow.jobs.operation_model import Operation
from shopflow.programs import queries
from shopflow.programs.inputs import inputs_of
from tests.programs.objects import upload


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
