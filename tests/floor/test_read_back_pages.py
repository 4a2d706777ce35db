"""The pages of a program that came back from the control, as the people at machine and desk use them."""

from datetime import datetime, time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from shopflow.floor import actions, comparing, queries, read_back_actions
from shopflow.floor.models import Lot, OpRun, ReadBack
from shopflow.people.models import User
from shopflow.programs import queries as programs
from shopflow.records import files, work
from shopflow.shop.calendar import workdays
from shopflow.shop.models import ClosedDay
from tests.floor.objects import SETUP_CHECKS, op, passed_on
from tests.people_fixtures import make_person
from tests.workflow.objects import on_floor


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    owner = make_person("the_owner", password="seven brass fittings")
    lot = on_floor(owner, quantity=5).lots.get()
    passed_on(lot, 10, 5, owner)
    actions.start(lot, op(lot, 20), by=owner, compared="first lines", confirmed=SETUP_CHECKS)
    return lot.pk


@pytest.fixture
def lot(made_once, db):
    return Lot.objects.select_related("job").get(pk=made_once)


@pytest.fixture
def step(lot):
    return op(lot, 20)


@pytest.fixture
def page(client, lot):
    client.force_login(User.objects.get(username="the_owner"))
    return client


def a_file(step, *changes):
    with files.open_file(queries.floor_copy_of(step).stored) as handle:
        data = handle.read()
    for old, new in changes:
        assert old in data
        data = data.replace(old, new, 1)
    return SimpleUploadedFile("O1001.NC", data, content_type="text/plain")


def at_machine(lot, step):
    return reverse("floor:send_back", args=[lot.pk, step.pk])


def send_in(page, lot, step, *changes):
    answer = page.post(at_machine(lot, step), {"file": a_file(step, *changes), "note": "by feel"}, follow=True)
    return answer, ReadBack.objects.first()


SLOWER = (b"F600.", b"F400.")
DEEPER = (b"Z-2.", b"Z-3.")


def test_at_the_machine_what_was_changed_is_shown_line_by_line(page, lot, step):
    answer, row = send_in(page, lot, step, SLOWER)
    assert answer.redirect_chain[-1][0] == reverse("floor:read_back", args=[row.pk])
    assert "slower feed" in answer.text
    assert "X40. F400." in answer.text


def test_accepted_at_the_machine_the_op_may_be_counted_again(page, lot, step):
    _answer, row = send_in(page, lot, step, SLOWER)
    answer = page.post(reverse("floor:read_back_accept", args=[row.pk]), {"note": "it sang"}, follow=True)
    assert reverse("floor:report", args=[lot.pk, step.pk, "good"]) in answer.text


def test_a_change_of_geometry_offers_nobody_to_accept_it(page, lot, step):
    answer, row = send_in(page, lot, step, DEEPER)
    assert reverse("floor:read_back_accept", args=[row.pk]) not in answer.text
    assert reverse("floor:read_back_judge", args=[row.pk]) in answer.text


def test_taken_it_leads_to_the_review_of_the_new_revision(page, lot, step):
    _answer, row = send_in(page, lot, step, DEEPER)
    typed = {"take": "1", "reason": "right so", "lesson": "go deeper", "about": "part"}
    answer = page.post(reverse("floor:read_back_judge", args=[row.pk]), typed)
    assert answer.url == programs.newest(row.floor_copy.revision.program).get_absolute_url()


def test_a_lesson_shows_on_the_page_of_the_next_review(page, lot, step):
    _answer, row = send_in(page, lot, step, DEEPER)
    typed = {"take": "1", "lesson": "peck from 20 mm on", "about": "tool"}
    answer = page.post(reverse("floor:read_back_judge", args=[row.pk]), typed, follow=True)
    assert "peck from 20 mm on" in answer.text


def test_a_refusal_without_a_reason_keeps_what_was_typed(page, lot, step):
    _answer, row = send_in(page, lot, step, DEEPER)
    typed = {"refuse": "1", "lesson": "never deeper than the print", "about": "part"}
    answer = page.post(reverse("floor:read_back_judge", args=[row.pk]), typed)
    assert answer.status_code == 422
    assert "never deeper than the print" in answer.text


def test_without_a_file_the_note_stays(page, lot, step):
    answer = page.post(at_machine(lot, step), {"note": "slower in the corner"})
    assert (answer.status_code, "slower in the corner" in answer.text) == (422, True)


def test_the_op_page_says_that_it_was_changed_and_waits(page, lot, step):
    answer = page.post(reverse("floor:report", args=[lot.pk, step.pk, "changed"]), {"key": "a-key-of-it"}, follow=True)
    assert "Send it in as it is there now" in answer.text
    assert OpRun.objects.get(lot=lot, step=step).changed_at


def test_at_the_desk_it_is_sent_in_for_an_op_of_a_lot(page, lot, step):
    address = reverse("floor:read_backs", args=[lot.job_id])
    typed = {"place": f"{lot.pk}-{step.pk}", "file": a_file(step, SLOWER)}
    answer = page.post(address, typed)
    assert answer.url == reverse("floor:read_back", args=[ReadBack.objects.get().pk])


def test_the_job_page_says_what_waits_for_a_reviewer(page, lot, step):
    send_in(page, lot, step, DEEPER)
    text = page.get(reverse("workflow:gate", args=[lot.job_id])).text
    assert "changed at the control, before the rest of the lot runs" in text
    assert reverse("floor:read_backs", args=[lot.job_id]) in text


def test_the_exact_bytes_can_be_had(page, lot, step):
    _answer, row = send_in(page, lot, step, SLOWER)
    answer = page.get(reverse("floor:read_back_file", args=[row.pk]))
    with files.open_file(row.stored) as handle:
        assert b"".join(answer.streaming_content) == handle.read()


def test_an_op_without_a_floor_copy_says_so(page, lot):
    assert "No floor copy to compare with" in page.get(at_machine(lot, op(lot, 10))).text


def test_a_machinist_alone_is_not_offered_the_review(client, lot, step, machinist):
    row = read_back_actions.send(lot, step, a_file(step, SLOWER).read(), by=machinist)
    client.force_login(machinist)
    text = client.get(reverse("floor:read_back", args=[row.pk])).text
    assert reverse("floor:read_back_accept", args=[row.pk]) in text
    assert reverse("floor:read_back_judge", args=[row.pk]) not in text


def test_a_page_that_waits_for_the_comparison_asks_again_until_it_is_done(page, lot, step, monkeypatch):
    monkeypatch.setattr(comparing, "AT_ONCE_BYTES", 0)
    answer, row = send_in(page, lot, step, SLOWER)
    address = reverse("floor:read_back_work", args=[row.pk])
    assert f'hx-get="{address}"' in answer.text
    assert "HX-Refresh" not in page.get(address, headers={"HX-Request": "true"})
    work.run(row.work_id, comparing.run, save=read_back_actions.note_compared)
    assert page.get(address, headers={"HX-Request": "true"})["HX-Refresh"] == "true"
    assert "slower feed" in page.get(reverse("floor:read_back", args=[row.pk])).text


def test_a_review_that_is_late_says_by_how_many_working_days(page, lot, step):
    """Accepted long ago, and one day after it was due the shop was closed."""
    with files.open_file(queries.floor_copy_of(step).stored) as handle:
        data = handle.read().replace(b"F600.", b"F400.")
    by = lot.job.created_by
    row = read_back_actions.send(lot, step, data, by=by, file_name="1.nc")
    due = workdays().before(timezone.localdate(), 4)
    accepted = timezone.make_aware(datetime.combine(workdays().before(due, 1), time(12)))
    ReadBack.objects.filter(pk=row.pk).update(accepted_at=accepted, accepted_note="x", accepted_by=by)
    ClosedDay.objects.create(name="a holiday", day=workdays().after(due))
    is_worked = workdays().is_worked(timezone.localdate())
    said = f"{3 if is_worked else 2} working days late"
    assert said in page.get(reverse("floor:read_backs", args=[lot.job_id])).text
