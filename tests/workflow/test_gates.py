"""A job leaves a stage when its gate is met, and is told exactly what is missing when it is not."""

import pytest
from django.core.exceptions import PermissionDenied

from shopflow.floor import actions as reports
from shopflow.floor import queries as floor
from shopflow.floor.actions import NotNow
from shopflow.jobs import actions as jobs
from shopflow.jobs.models import Stage
from shopflow.records import ledger
from shopflow.shop.models import Tool
from shopflow.workflow import actions, gates
from tests.jobs.objects import a_job, a_material
from tests.programs.objects import a_program, again, upload
from tests.workflow.objects import at_plan, at_release, at_review, on_floor, with_material, with_packet

pytestmark = pytest.mark.django_db


def missing(job):
    return [condition.text for condition in gates.unmet(gates.gate_of(job))]


def test_a_fresh_job_is_told_what_intake_still_needs(lead):
    assert missing(a_job(lead)) == ["the model was read", "print or model named as governing", "material set"]


def test_every_unmet_condition_offers_a_way_to_mend_it(lead):
    assert all(condition.mend for condition in gates.unmet(gates.gate_of(a_job(lead))))


def test_a_closed_gate_moves_nothing(lead):
    job = a_job(lead)
    with pytest.raises(gates.GateClosed, match="material set"):
        actions.advance(job, by=lead)
    job.refresh_from_db()
    assert job.stage == Stage.INTAKE


def test_an_open_question_that_holds_the_job_keeps_it_in_intake(lead):
    job = a_job(lead, no_model_reason="sample", governing="print", material=a_material(), notes="as the sample")
    jobs.ask_question(job, by=lead, text="Which finish?")
    assert missing(job) == ["no open question to the customer holds the job"]


def test_an_answered_question_lets_it_go(lead):
    job = a_job(lead, no_model_reason="sample", governing="print", material=a_material(), notes="as the sample")
    jobs.answer_question(jobs.ask_question(job, by=lead, text="Which finish?"), by=lead, answer="As milled.")
    assert actions.advance(job, by=lead).stage == Stage.PLAN


def test_a_job_without_a_model_needs_a_drawing_or_a_note_in_its_place(lead):
    job = a_job(lead, no_model_reason="sample", governing="print", material=a_material())
    assert missing(job) == ["a drawing, a photo or a note stands in for the model"]


def test_a_plan_that_nobody_approved_goes_no_further(lead):
    job = at_plan(lead)
    assert "a person approved the plan as it is now" in missing(job)


def test_a_plan_changed_after_its_approval_is_approved_anew(lead):
    job = at_review(lead)
    setup = job.setups.get()
    setup.workholding = "clamps"
    setup.save()
    assert "a person approved the plan as it is now" in [c.text for c in gates.unmet(gates.plan_gate(job))]


def test_review_asks_for_a_program_for_every_setup(lead):
    job = at_review(lead)
    found = gates.unmet(gates.review_gate(job))
    assert [condition.reason for condition in found] == ["setup 1 has none"]


def test_an_unsigned_program_does_not_leave_review(lead):
    job = at_review(lead)
    upload(job, by=lead)
    assert missing(job) == ["every program is signed off, and the sign-off holds"]


def test_release_asks_for_material_and_packet(lead):
    assert missing(at_release(lead)) == ["material received", "packet printed"]


def test_a_new_program_revision_closes_the_release_gate_again(lead):
    job = at_release(lead)
    program = job.programs.get()
    again(program.revisions.first(), a_program(depth=3), by=lead)
    assert "every program is signed off, and the sign-off holds" in missing(job)


def test_a_packet_is_out_of_date_when_the_job_changed_after_it(lead):
    job = with_material(at_release(lead), lead)
    with_packet(job, lead)
    jobs.receive_material(job, by=lead, heat_number="H-2000")
    job.refresh_from_db()
    assert missing(job) == ["packet printed"]


def test_release_puts_all_pieces_at_the_first_step(lead):
    job = on_floor(lead)
    lot = job.lots.get()
    assert floor.standing_at(lot, job.steps.first()) == job.quantity == 5


def test_only_a_lead_releases(lead, programmer):
    job = with_material(at_release(lead), lead)
    with_packet(job, lead)
    with pytest.raises(PermissionDenied):
        actions.advance(job, by=programmer)


def test_a_held_job_does_not_move(lead):
    job = actions.hold(a_job(lead), reason="price in question", by=lead)
    with pytest.raises(NotNow, match="price in question"):
        actions.advance(job, by=lead)


def test_a_resumed_job_goes_on_where_it_stood(lead):
    job = actions.resume(actions.hold(at_plan(lead), reason="price in question", by=lead), by=lead)
    assert (job.stage, job.held_reason) == (Stage.PLAN, "")


def test_holding_needs_a_reason(lead):
    with pytest.raises(NotNow, match="Say why"):
        actions.hold(a_job(lead), reason=" ", by=lead)


def test_every_move_is_in_the_history(lead):
    job = at_review(lead)
    moves = [row.data for row in ledger.rows_for(job.chain) if row.kind == "advanced"]
    assert moves == [{"after": "plan", "before": "intake"}, {"after": "review", "before": "plan"}]


def test_a_job_closes_only_when_no_piece_stands(lead):
    assert "no piece stands at a step any more" in missing(on_floor(lead))


def test_a_lapsed_sign_off_stops_the_next_start(lead):
    """A tool that sticks out less than what was signed for takes the signature away, released or not."""
    job = on_floor(lead)
    lot, mill = job.lots.get(), job.steps.get(kind="mill")
    reports.count_good(reports.start(lot, job.steps.first(), by=lead), 5, by=lead)
    Tool.objects.filter(number=1).update(stickout="5 mm")
    with pytest.raises(NotNow, match=r"no longer holds\. T1 least stickout was 35 and is 5\. Have it reviewed"):
        reports.start(lot, mill, by=lead, compared="hash", confirmed=list(reports.SETUP_CHECKS))
