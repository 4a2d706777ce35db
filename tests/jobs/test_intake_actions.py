"""An order becomes a job; what was ordered changes only as far as the floor allows."""

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from shopflow.core.errors import NotPossible
from shopflow.jobs import actions, queries
from shopflow.jobs.models import Customer, Job, Part, Stage
from shopflow.records import ledger
from tests.jobs.objects import a_job, a_material, an_order

pytestmark = pytest.mark.django_db


def kinds(job):
    return [row.kind for row in ledger.rows_for(job.chain)]


def put_on_the_floor(job, stage=Stage.FLOOR):
    Job.objects.filter(pk=job.pk).update(stage=stage)  # as workflow's own action would leave it


def test_a_job_begins_in_intake_with_the_order_as_typed(programmer):
    job = a_job(programmer, order_number="4500017", order_line="20", notes="Ships in trays.")
    job = queries.job_for(programmer, job.pk)
    assert (job.stage, job.customer.name, job.part.number, job.revision.revision) == (
        "intake", "Brookside Pumps", "BP-1140", "C",
    )  # fmt: skip
    assert (job.order_number, job.order_line, job.quantity, job.notes) == ("4500017", "20", 12, "Ships in trays.")


def test_a_job_begins_its_own_chain(programmer):
    job = a_job(programmer)
    assert kinds(job) == ["job_taken_in"]
    assert ledger.rows_for(job.chain).get().by == programmer


def test_job_numbers_are_the_year_and_run_on(programmer):
    first, second = a_job(programmer), a_job(programmer)
    year = f"{timezone.localdate():%y}"
    assert [first.number, second.number] == [f"{year}-0001", f"{year}-0002"]


def test_a_known_customer_part_and_revision_are_used_again(programmer):
    first, second = a_job(programmer), a_job(programmer)
    assert first.revision == second.revision
    assert (Customer.objects.count(), Part.objects.count()) == (1, 1)


def test_the_same_part_number_of_two_customers_is_two_parts(programmer):
    a_job(programmer)
    a_job(programmer, customer="Harrow Valve")
    assert Part.objects.filter(number="BP-1140").count() == 2


@pytest.mark.parametrize("role", ["reviewer", "machinist", "inspector", "viewer", "stranger"])
def test_only_the_desk_takes_jobs_in(everybody, role):
    with pytest.raises(PermissionDenied):
        a_job(everybody[role])
    assert not Job.objects.exists()


def test_a_changed_order_says_before_and_after_in_the_history(programmer):
    job = a_job(programmer)
    actions.change_order(job, an_order(quantity=20), by=programmer)
    row = ledger.rows_for(job.chain).last()
    assert (row.kind, row.data["before"], row.data["after"]) == ("order_changed", {"quantity": 12}, {"quantity": 20})


def test_an_order_saved_without_a_change_leaves_no_trace(programmer):
    job = a_job(programmer)
    actions.change_order(job, an_order(), by=programmer)
    assert kinds(job) == ["job_taken_in"]


def test_the_history_holds_no_notes_that_may_have_to_be_erased(programmer):
    job = a_job(programmer)
    actions.change_order(job, an_order(notes="Ask for Mrs Example"), by=programmer)
    assert "Example" not in ledger.rows_for(job.chain).last().payload


@pytest.mark.parametrize(
    "change", [{"quantity": 13}, {"revision": "D"}, {"material_note": "7075"}, {"governing": "model"}]
)
def test_what_is_being_made_does_not_change_on_the_floor(programmer, change):
    job = a_job(programmer)
    put_on_the_floor(job)
    with pytest.raises(NotPossible, match="cannot change"):
        actions.change_order(job, an_order(**change), by=programmer)


def test_the_date_may_change_on_the_floor(programmer):
    job = a_job(programmer)
    put_on_the_floor(job)
    later = an_order().due_on.replace(month=6)
    actions.change_order(job, an_order(due_on=later), by=programmer)
    job.refresh_from_db()
    assert job.due_on == later


def test_a_closed_job_takes_no_change(programmer):
    job = a_job(programmer)
    put_on_the_floor(job, Stage.CLOSED)
    with pytest.raises(NotPossible, match="is closed"):
        actions.change_order(job, an_order(notes="late"), by=programmer)


def test_a_material_that_asks_for_its_heat_is_not_received_without_one(programmer):
    job = a_job(programmer, material=a_material(needs_heat_number=True))
    with pytest.raises(NotPossible, match="heat or lot number"):
        actions.receive_material(job, by=programmer, heat_number="")
    job.refresh_from_db()
    assert not job.material_received


def test_received_material_keeps_its_heat_number(programmer):
    job = a_job(programmer, material=a_material(needs_heat_number=True))
    actions.receive_material(job, by=programmer, heat_number="H 77-2")
    job.refresh_from_db()
    assert (job.material_received, job.heat_number) == (True, "H 77-2")


def test_a_question_that_holds_the_job_is_open_until_it_is_answered(programmer):
    job = a_job(programmer)
    question = actions.ask_question(job, by=programmer, text="Thread depth?")
    assert list(queries.open_questions(job)) == [question]
    actions.answer_question(question, by=programmer, answer="12 mm full thread")
    assert not queries.open_questions(job).exists()
    assert kinds(job)[1:] == ["question_asked", "question_answered"]


def test_questions_are_numbered_for_each_job(programmer):
    job, other = a_job(programmer), a_job(programmer)
    numbers = [actions.ask_question(one, by=programmer, text="?").number for one in (job, job, other)]
    assert numbers == [1, 2, 1]


def test_an_empty_answer_leaves_the_question_open(programmer):
    question = actions.ask_question(a_job(programmer), by=programmer, text="Which finish?")
    with pytest.raises(NotPossible):
        actions.answer_question(question, by=programmer, answer="  ")
    question.refresh_from_db()
    assert question.is_open
