"""Reports as a station's device delivers them: answered in JSON, counted once, with the time they were made at."""

from datetime import timedelta

import pytest
from django.contrib.messages import get_messages
from django.urls import reverse
from django.utils import timezone

from shopflow.floor import reported
from shopflow.floor.models import OpRun
from shopflow.people.models import Role
from shopflow.records.models import LedgerRow
from shopflow.workflow import history
from tests.floor.objects import a_lot, op, started
from tests.people_fixtures import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def made_once(rows_of_the_file):
    lead = make_person("somebody_at_the_desk", Role.LEAD)
    return a_lot(lead), lead


@pytest.fixture
def lot(made_once, db):
    return made_once[0]


@pytest.fixture
def device(client, machinist, lot):
    """Send a report of op 10 as the machinist's device does; the answer."""
    client.force_login(machinist)

    def send(what, *, key="device-0001", made_by=machinist.pk, made_at="", **typed):
        name, more = ("floor:start", []) if what == "start" else ("floor:report", [what])
        url = reverse(name, args=[lot.pk, op(lot, 10).pk, *more])
        sent = {"key": key, "made_by": made_by, "made_at": made_at, **typed}
        return client.post(url, sent, headers={"accept": "application/json"})

    return send


def ago(**span):
    return timezone.now() - timedelta(**span)


def test_a_report_is_counted_and_said(device, lot):
    answer = device("start")
    assert (answer.status_code, answer.json()) == (200, {"done": "Op 10 is started."})


def test_a_report_that_does_not_fit_is_refused_with_the_reason(device):
    answer = device("good", quantity="3")
    assert (answer.status_code, answer.json()) == (409, {"refused": "Start op 10 first."})


def test_a_report_that_cannot_be_read_is_refused_with_the_reason(device):
    answer = device("scrap", quantity="0", reason="dropped")
    assert (answer.status_code, answer.json()) == (
        422, {"refused": "Ensure this value is greater than or equal to 1."},
    )  # fmt: skip


def test_a_report_sent_again_after_its_op_is_over_counts_once(device, lot, machinist):
    started(lot, 10, machinist)
    device("finish", key="device-0009")
    answer = device("finish", key="device-0009")
    assert (answer.status_code, answer.json()["done"]) == (200, "Counted already.")
    assert LedgerRow.objects.filter(kind="op_finished").count() == 1


def test_a_report_of_another_person_is_not_taken_under_this_log_in(device, lot):
    answer = device("start", made_by=lot.pk + 1000)
    assert answer.status_code == 403
    assert not OpRun.objects.filter(lot=lot).exists()


def test_a_form_that_was_sent_and_then_changed_is_refused_in_words(client, machinist, lot):
    client.force_login(machinist)
    started(lot, 10, machinist)
    url = reverse("floor:report", args=[lot.pk, op(lot, 10).pk, "good"])
    for quantity in ("2", "3"):
        answer = client.post(url, {"key": "a-page-0001", "quantity": quantity})
    assert "something else in it" in str(list(get_messages(answer.wsgi_request))[-1])


def test_an_op_began_when_it_was_reported_and_not_when_the_report_arrived(device, lot):
    made = ago(hours=2)
    device("start", made_at=made.isoformat())
    assert OpRun.objects.get(lot=lot).started_at == made


def test_the_history_says_when_a_late_report_was_made(device, lot):
    device("start", made_at=ago(hours=2).isoformat())
    newest = history.entries_of(lot.job.chain)[0]
    assert newest.text.startswith("op 10 started (made ")


def test_a_report_that_came_at_once_says_nothing_of_the_time(device, lot):
    device("start", made_at=timezone.now().isoformat())
    assert history.entries_of(lot.job.chain)[0].text == "op 10 started"


@pytest.mark.parametrize("made", [{"days": 8}, {"hours": -1}], ids=["too long ago", "not yet"])
def test_a_time_that_cannot_be_true_is_told_and_not_used(device, lot, made):
    answer = device("start", made_at=ago(**made).isoformat())
    assert "clock of this device must be wrong" in " ".join(map(str, get_messages(answer.wsgi_request)))
    assert abs(OpRun.objects.get(lot=lot).started_at - timezone.now()) < timedelta(hours=1)


@pytest.mark.parametrize("text", ["", "yesterday", "2026-13-40T00:00:00Z", "2026-03-01T10:00:00"])
def test_a_time_that_is_none_does_not_stop_the_report(device, text):
    assert device("start", made_at=text).status_code == 200


def test_an_op_never_ends_before_it_began(device, lot, machinist):
    run = started(lot, 10, machinist)
    device("finish", made_at=ago(days=2).isoformat())
    run.refresh_from_db()
    assert run.finished_at == run.started_at


def test_the_time_of_one_report_does_not_reach_the_next():
    with reported.made_at(ago(hours=1)):
        pass
    assert reported.payload() == {}
