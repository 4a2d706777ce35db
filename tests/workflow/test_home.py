"""Where it stands: strips, the change counter, the search."""

import datetime as dt
import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.floor import actions as floor
from shopflow.jobs.models import Job
from shopflow.people.models import Role
from shopflow.records import ledger
from shopflow.workflow import actions, queries
from shopflow.workflow.standing import strips_for
from shopflow.workflow.strips import BeadState, OpState
from tests.floor.objects import a_lot, op, passed_on
from tests.jobs.objects import a_job
from tests.programs.objects import a_planned_job, the_crib, upload

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead_client(client, lead):
    client.force_login(lead)
    return client


def strip_of(job, person):
    return strips_for(list(Job.objects.filter(pk=job.pk).select_related("revision__part__customer")), person)[0]


def test_a_fresh_shop_is_told_what_to_do_first(lead_client):
    assert "Take in a job" in lead_client.get(reverse("workflow:home")).content.decode()


def test_open_jobs_stand_due_soonest_first(lead_client, lead):
    later = a_job(lead, due_on=dt.date(2032, 1, 1))
    sooner = a_job(lead, due_on=dt.date(2031, 1, 1))
    page = lead_client.get(reverse("workflow:home")).content.decode()
    assert page.index(sooner.number) < page.index(later.number)


def test_a_bead_stands_at_the_op_where_its_pieces_are(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 5, lead)
    beads = {(bead.op_index, bead.count) for bead in strip_of(lot.job, lead).beads}
    assert beads == {(0, 7), (1, 5)}


def test_pieces_in_work_are_told_from_pieces_that_wait(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 5, lead)
    states = {bead.op_index: bead.state for bead in strip_of(lot.job, lead).beads}
    assert states == {0: BeadState.RUNNING, 1: BeadState.WAITING}


def test_held_pieces_are_a_bead_of_their_own(lead):
    lot = a_lot(lead)
    floor.hold(lot, op(lot, 10), 2, reason="scratch", by=lead)
    strip = strip_of(lot.job, lead)
    assert {(bead.count, bead.state) for bead in strip.beads} == {(10, BeadState.WAITING), (2, BeadState.HELD)}
    assert strip.ops[0].state == OpState.HELD


def test_an_op_is_done_when_every_piece_is_past_it(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 12, lead)
    assert [o.state for o in strip_of(lot.job, lead).ops][:3] == [OpState.DONE, OpState.NOW, OpState.TODO]


def test_the_headline_says_what_stands_where(lead):
    lot = a_lot(lead)
    passed_on(lot, 10, 4, lead)
    assert strip_of(lot.job, lead).headline == "8 in saw, 4 in mill"


def test_a_desk_stage_calls_the_person_who_may_move_it_on(lead, machinist):
    job = a_job(lead)
    assert [strip_of(job, person).needs_you for person in (lead, machinist)] == [True, False]


def test_a_held_job_calls_nobody(lead):
    job = actions.hold(a_job(lead), reason="price", by=lead)
    assert strip_of(job, lead).needs_you is False


def test_nothing_new_is_answered_without_content(lead_client, lead):
    a_job(lead)
    answer = lead_client.get(reverse("workflow:changes"), {"since": ledger.counter()})
    assert answer.status_code == 204


def test_a_change_names_the_job_it_happened_to(lead_client, lead):
    job, _other = a_job(lead), a_job(lead)
    before = ledger.counter()
    actions.hold(job, reason="price", by=lead)
    answer = json.loads(lead_client.get(reverse("workflow:changes"), {"since": before}).content)
    assert answer["strips"] == [job.pk]


@pytest.mark.parametrize("since", ["", "abc", "-5", "99999999999999999999"])
def test_a_counter_that_makes_no_sense_names_every_job(lead_client, lead, since):
    job = a_job(lead)
    answer = json.loads(lead_client.get(reverse("workflow:changes"), {"since": since}).content)
    assert answer["strips"] == [job.pk]


@pytest.mark.parametrize("jobs", [2, 20])
def test_the_home_page_takes_at_most_fifteen_queries_however_many_jobs(lead_client, lead, jobs):
    for _ in range(jobs):
        a_lot(lead)
    with CaptureQueriesContext(connection) as asked:
        lead_client.get(reverse("workflow:home"))
    assert len(asked) <= 15


def test_asking_for_changes_reads_the_counter_once(lead_client, lead):
    a_job(lead)
    url, since = reverse("workflow:changes"), ledger.counter()
    with CaptureQueriesContext(connection) as asked:
        lead_client.get(url, {"since": since})
    assert sum("changed" in query["sql"] for query in asked.captured_queries) == 1


@pytest.mark.parametrize("words", ["26-", "brookside", "H-77"])
def test_the_search_finds_a_job_by_number_customer_and_heat(lead, words):
    job = a_job(lead)
    Job.objects.filter(pk=job.pk).update(heat_number="H-77", number="26-4711")
    assert queries.search(words).jobs == [job]


def test_the_search_finds_a_program_by_the_start_of_its_hash(lead):
    revision = upload(a_planned_job(lead), by=lead, reviewed=False)
    assert queries.search(revision.stored.sha256[:8].upper()).programs == [revision]


@pytest.mark.parametrize("words", ["T2", "2", "jobber"])
def test_the_search_finds_a_tool_by_number_and_name(words):
    _mill, drill = the_crib()
    assert queries.search(words).tools == [drill]


def test_a_search_for_nothing_known_says_so(lead_client):
    assert "Nothing found" in lead_client.get(reverse("workflow:search"), {"q": "no such thing"}).content.decode()


@pytest.mark.parametrize("role", [role for role in Role.values if role != "viewer"])
def test_the_job_page_opens_for_every_role(client, everybody, role):
    job = a_job(everybody["lead"])
    client.force_login(everybody[role])
    assert client.get(reverse("workflow:job", args=[job.pk])).status_code == 200


def test_whats_missing_can_be_fetched_alone(lead_client, lead):
    page = lead_client.get(reverse("workflow:gate", args=[a_job(lead).pk])).content.decode()
    assert "the model was read" in page
    assert "<html" not in page
