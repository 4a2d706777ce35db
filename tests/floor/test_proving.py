"""A program is proven by a lot that ran through without a change; a repeat order is offered it, with what differs."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.floor import actions, as_run_actions, proving, queries, read_back_actions
from shopflow.floor.as_run_actions import WasSet
from shopflow.floor.models import Lot
from shopflow.jobs.models import Job
from shopflow.papers import traveler
from shopflow.people.models import User
from shopflow.programs import actions as programs
from shopflow.programs import proven as proofs
from shopflow.programs import queries as program_queries
from shopflow.programs.models import ProgramRevision
from shopflow.programs.proven import proven
from shopflow.records import files, ledger
from shopflow.records.canonical import canonical
from shopflow.shop.models import Tool
from tests.floor.objects import SETUP_CHECKS, op, passed_on
from tests.people_fixtures import make_person
from tests.programs.objects import a_machine, a_planned_job, a_program, accept, review, sign, upload
from tests.workflow.objects import on_floor, with_packet


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    """A job of one milling op on the floor: three pieces stand there, and the op runs."""
    owner = make_person("the_owner", password="seven brass fittings")
    lot = on_floor(owner, quantity=3).lots.get()
    passed_on(lot, 10, 3, owner)
    actions.start(lot, op(lot, 20), by=owner, compared="first lines", confirmed=SETUP_CHECKS,
                  machine=op(lot, 20).setup.machine)  # fmt: skip
    return lot.pk


@pytest.fixture
def lot(made_once, db):
    return Lot.objects.select_related("job").get(pk=made_once)


@pytest.fixture
def owner(lot):
    return User.objects.get(username="the_owner")


@pytest.fixture
def step(lot):
    return op(lot, 20)


@pytest.fixture
def revision(lot):
    return ProgramRevision.objects.get(program__job=lot.job)


def run_out(lot, step, owner, *, good=3):
    """What was set is noted, the pieces are counted good, the op is finished."""
    as_run_actions.note(lot, step, WasSet(feed_override=100), by=owner)
    actions.count_good(queries.open_run(lot, step), good, by=owner)
    actions.finish(queries.open_run(lot, step), by=owner)


def is_proven(revision):
    return revision.pk in proven([revision.pk])


def came_back(lot, step, owner, *change):
    with files.open_file(queries.floor_copy_of(step).stored) as handle:
        data = handle.read()
    return read_back_actions.send(lot, step, data.replace(*change) if change else data, by=owner, file_name="1001.nc")


def a_repeat(lot, owner, **changes):
    """A later order of the same part revision, planned as the first one was."""
    job = a_planned_job(owner)
    Job.objects.filter(pk=job.pk).update(revision=lot.job.revision, stage="review", **changes)
    return Job.objects.get(pk=job.pk)


def test_a_lot_that_ran_through_without_a_change_proves_its_program(lot, step, owner, revision):
    run_out(lot, step, owner)
    (found,) = proving.proven([revision.pk])
    assert (found.machine, found.job, found.lot, found.ops, found.pieces) == (
        step.setup.machine, lot.job.number, 1, (20,), 3,
    )  # fmt: skip


def test_two_programs_of_two_jobs_are_proven_with_as_many_queries_as_one(lot, step, owner, revision):
    run_out(lot, step, owner)
    other = on_floor(owner, quantity=3).lots.get()
    both = [revision.pk, ProgramRevision.objects.get(program__job=other.job).pk]
    with CaptureQueriesContext(connection) as one:
        proven(both[:1])
    with CaptureQueriesContext(connection) as two:
        proven(both)
    assert len(two) == len(one)


def test_a_run_that_is_still_open_proves_nothing(lot, step, owner, revision):
    as_run_actions.note(lot, step, WasSet(feed_override=100), by=owner)
    actions.count_good(queries.open_run(lot, step), 3, by=owner)
    assert not is_proven(revision)


def test_pieces_that_still_stand_at_the_op_keep_it_from_being_proven(lot, step, owner, revision):
    run_out(lot, step, owner, good=2)
    assert not is_proven(revision)


def test_pieces_that_are_still_to_come_keep_it_from_being_proven(lot, step, owner, revision):
    actions.add(lot, op(lot, 10), 1, reason="a spare", by=owner)
    run_out(lot, step, owner)
    assert not is_proven(revision)


def test_a_change_at_the_control_keeps_it_from_being_proven(lot, step, owner, revision):
    read_back_actions.accept(came_back(lot, step, owner, b"F600.", b"F400."), note="chatter", by=owner)
    run_out(lot, step, owner)
    assert not is_proven(revision)


def test_a_read_back_that_shows_no_change_speaks_for_it(lot, step, owner, revision):
    came_back(lot, step, owner)
    run_out(lot, step, owner)
    assert is_proven(revision)


def test_a_piece_scrapped_for_the_program_keeps_it_from_being_proven(lot, step, owner, revision):
    actions.scrap(lot, step, 1, reason="the program", cause=proving.PROGRAM, by=owner)
    run_out(lot, step, owner, good=2)
    assert not is_proven(revision)


def test_a_piece_scrapped_for_another_reason_says_nothing_about_the_program(lot, step, owner, revision):
    actions.scrap(lot, step, 1, reason="dropped", by=owner)
    run_out(lot, step, owner, good=2)
    assert is_proven(revision)


def test_the_reason_picked_at_the_station_names_the_program_as_the_cause(client, lot, step, owner):
    client.force_login(owner)
    address = reverse("floor:report", args=[lot.pk, step.pk, "scrap"])
    client.post(address, {"quantity": 1, "reason": "The program", "key": "scrap-key-1"})
    row = ledger.rows_for(lot.job.chain).filter(kind="pieces_scrapped").get()
    assert row.data["cause"] == proving.PROGRAM


def test_another_revision_on_the_floor_while_it_ran_keeps_it_from_being_proven(lot, step, owner, revision):
    newer = upload(lot.job, a_program(depth=4), by=owner, program=revision.program, name=revision.program.name)
    sign(newer, by=owner)
    with_packet(Job.objects.get(pk=lot.job_id), owner)
    run_out(lot, step, owner)
    assert (is_proven(revision), is_proven(newer)) == (False, False)


def test_a_repeat_order_is_offered_the_proven_program(lot, step, owner, revision):
    run_out(lot, step, owner)
    job = a_repeat(lot, owner)
    (offer,) = program_queries.offers(job)
    assert (offer.revision, offer.setups) == (revision, list(job.setups.all()))


def test_a_program_that_is_not_proven_is_not_offered(lot, owner):
    assert program_queries.offers(a_repeat(lot, owner)) == []


def test_an_order_of_another_part_is_not_offered_it(lot, step, owner):
    run_out(lot, step, owner)
    assert program_queries.offers(a_planned_job(owner, part_number="OTHER-7")) == []


def test_the_offer_says_which_tool_differs_since(lot, step, owner):
    run_out(lot, step, owner)
    Tool.objects.filter(number=1).update(stickout="38 mm")
    (offer,) = program_queries.offers(a_repeat(lot, owner))
    assert "T1 least stickout was 35 and is 38" in [str(change) for change in offer.changes]


def test_taking_it_makes_a_program_of_the_same_bytes_that_waits_for_its_review(lot, step, owner, revision):
    run_out(lot, step, owner)
    made = programs.take_proven(a_repeat(lot, owner), revision, by=owner)
    assert (made.stored_id, made.repeats, made.came_by) == (revision.stored_id, revision, "repeat")
    assert program_queries.review_of(made) is not None


def test_its_sign_off_does_not_come_along(lot, step, owner, revision):
    run_out(lot, step, owner)
    made = programs.take_proven(a_repeat(lot, owner), revision, by=owner)
    assert not program_queries.sign_off_standing(made).valid


def test_taken_once_it_is_not_offered_again(lot, step, owner, revision):
    run_out(lot, step, owner)
    job = a_repeat(lot, owner)
    programs.take_proven(job, revision, by=owner)
    with pytest.raises(NotPossible, match="not offered"):
        programs.take_proven(job, revision, by=owner)


def test_a_machinist_takes_no_program_over(lot, revision, machinist):
    with pytest.raises(PermissionDenied):
        programs.take_proven(lot.job, revision, by=machinist)


def test_the_history_says_from_where_it_was_taken(lot, step, owner, revision):
    run_out(lot, step, owner)
    job = a_repeat(lot, owner)
    programs.take_proven(job, revision, by=owner)
    row = ledger.rows_for(job.chain).filter(kind="program_repeated").get()
    assert (row.data["of"], row.data["job"], row.data["lot"]) == (revision.pk, lot.job.number, 1)


def test_the_program_page_of_a_repeat_offers_it_and_takes_it(client, lot, step, owner, revision):
    run_out(lot, step, owner)
    job = a_repeat(lot, owner)
    client.force_login(owner)
    assert "Proven before" in client.get(reverse("programs:list", args=[job.pk])).text
    answer = client.post(reverse("programs:repeat", args=[job.pk, revision.pk]))
    assert answer.url == job.programs.get().revisions.get().get_absolute_url()


def test_the_review_page_says_where_it_was_proven_and_what_differs(client, lot, step, owner, revision):
    run_out(lot, step, owner)
    client.force_login(owner)
    shown = client.get(revision.get_absolute_url()).text
    assert f"job {lot.job.number}, lot 1" in shown
    assert "as they were then" in shown


def test_the_traveler_says_where_its_program_was_proven(lot, step, owner):
    run_out(lot, step, owner)
    lines = {line.step.op_number: line for line in traveler.context_of(lot.job.packets.get())["lines"]}
    assert (lines[20].proven.job, lines[10].proven) == (lot.job.number, None)


def test_a_decision_is_remembered_for_another_job_of_the_same_part(owner):
    first = upload(a_planned_job(owner), a_program(depth=20), by=owner)
    accept(first, by=owner, reason="short run, watched")
    other = a_planned_job(owner)
    Job.objects.filter(pk=other.pk).update(revision=first.program.job.revision)
    second = review(upload(Job.objects.get(pk=other.pk), a_program(depth=20), by=owner, reviewed=False))
    carried = [row for row in program_queries.newest_decisions(second).values() if row.carried_from_id]
    assert {row.reason for row in carried} == {"short run, watched"}
    assert f"carried from job {first.program.job}" in carried[0].text


def test_a_decision_is_not_carried_to_another_part(owner):
    accept(upload(a_planned_job(owner), a_program(depth=20), by=owner), by=owner)
    other = upload(a_planned_job(owner, part_number="OTHER-8"), a_program(depth=20), by=owner)
    assert program_queries.newest_decisions(other) == {}


def test_what_was_to_be_mended_the_last_time_is_not_accepted_by_an_older_decision(owner):
    first = upload(a_planned_job(owner), a_program(depth=20), by=owner)
    (accepted, *_rest) = accept(first, by=owner)
    programs.decide(first, [accepted.finding_key], by=owner, verdict="mend", reason="it chattered")
    other = a_planned_job(owner)
    Job.objects.filter(pk=other.pk).update(revision=first.program.job.revision)
    second = review(upload(Job.objects.get(pk=other.pk), a_program(depth=20), by=owner, reviewed=False))
    assert accepted.finding_key not in program_queries.newest_decisions(second)


def test_a_proof_names_the_machine_and_the_tools_that_it_ran_with(client, lot, step, owner, revision):
    run_out(lot, step, owner)
    proof = proofs.proven([revision.pk])[revision.pk]
    client.force_login(owner)
    assert proof.tools == tuple(sorted(revision.called))
    assert f"{proof.machine}, job {lot.job.number}" in client.get(revision.get_absolute_url()).text


def test_a_repeat_is_held_against_the_lot_that_ran_on_its_own_machine(lot, step, owner, revision):
    """Proven on this machine first and on another one later: what is said is what differs from this machine's lot."""
    run_out(lot, step, owner)
    here = proofs.proven([revision.pk])[revision.pk]
    there = replace(here, machine=a_machine("the other mill"), finished_at=here.finished_at + timedelta(days=1))
    found = sorted([here, there], key=lambda one: one.finished_at, reverse=True)
    assert (proofs.on(found, here.machine), proofs.on(found, None), proofs.on([], None)) == (here, there, None)


def test_the_traveler_says_what_is_otherwise_than_when_it_was_proven(lot, step, owner, revision):
    run_out(lot, step, owner)
    Tool.objects.filter(number=1).update(stickout="38 mm")
    line = next(one for one in traveler.context_of(lot.job.packets.get())["lines"] if one.step == step)
    line.copy.sign_off.assumptions = canonical(program_queries.assumptions(revision))
    assert "T1 least stickout was 35 and is 38" in [str(change) for change in line.since]
