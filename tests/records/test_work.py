import threading
import time
from datetime import timedelta

import pytest
from django.db import connections, transaction
from django.utils import timezone
from kombu.exceptions import OperationalError

from shopflow.core.errors import NotPossible
from shopflow.records import heartbeat, ledger, work
from shopflow.records.models import LedgerRow, Work
from tests.records import adding, tasks

from .conftest import in_threads

pytestmark = [pytest.mark.both_databases, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def sent(monkeypatch):
    """The ids that went to the broker, which nobody listens to here."""
    ids = []
    monkeypatch.setitem(work.TASKS, "add", "tests.records.tasks.add")
    monkeypatch.setattr(tasks.add, "delay", ids.append)
    return ids


def ask(number: int = 1) -> Work:
    return work.ask("add", {"number": number}, version="1", subject=("job", 1))


def run(row: Work, compute=adding.add_up, save=None) -> Work:
    work.run(row.pk, compute, save=save)
    row.refresh_from_db()
    return row


def abandon(row: Work) -> None:
    Work.objects.filter(pk=row.pk).update(heartbeat_at=timezone.now() - timedelta(hours=1))


def break_down(row, progress):
    raise ConnectionError("the network is gone")


def refuse(row, progress):
    raise NotPossible("The file has no solid in it. Ask the customer for a solid model.")


# Asking


def test_the_same_question_twice_is_one_row_sent_once(sent):
    first, again = ask(), ask()
    assert (first.pk, sent) == (again.pk, [first.pk])


@pytest.mark.parametrize("change", [{"kind": "add2"}, {"inputs": {"number": 2}}, {"version": "2"}])
def test_another_kind_input_or_version_is_other_work(monkeypatch, change):
    monkeypatch.setitem(work.TASKS, "add2", "tests.records.tasks.add")
    asked = {"kind": "add", "inputs": {"number": 1}, "version": "1"} | change
    assert work.ask(**asked, subject=("job", 1)).pk != ask().pk


def test_a_kind_without_a_task_is_refused():
    with pytest.raises(ValueError, match="no task"):
        work.ask("unknown", {}, version="1", subject=("job", 1))


def test_eight_who_ask_at_once_get_one_row():
    in_threads(8, lambda number: ask())
    assert Work.objects.count() == 1


def test_work_is_asked_for_although_the_broker_is_away(monkeypatch):
    def away(work_id):
        raise OperationalError("no broker")

    monkeypatch.setattr(tasks.add, "delay", away)
    row = Work.objects.get(pk=ask().pk)
    assert (row.state, row.sent_at) == ("waiting", None)


# Running


def test_finished_work_has_its_result():
    row = run(ask())
    assert (row.state, row.result, row.percent, row.attempts, row.error) == ("done", {"sum": 210}, 100, 1, "")


def test_finished_work_is_not_done_again():
    row = run(ask(), save=adding.note)
    assert work.run(row.pk, break_down) is None
    assert (Work.objects.get().state, LedgerRow.objects.count()) == ("done", 1)


def test_work_whose_row_is_gone_ends_quietly():
    assert work.run(12345, adding.add_up) is None


def test_progress_is_seen_from_outside_while_the_work_runs(monkeypatch):
    monkeypatch.setattr(work, "PROGRESS_EVERY_S", 0.0)
    row, seen = ask(), []
    monkeypatch.setattr(
        adding, "pause", lambda: seen.append(Work.objects.values_list("percent", "step").get(pk=row.pk))
    )
    run(row)
    assert seen[:2] == [(5, "adding 1"), (10, "adding 2")]


def test_progress_said_very_often_is_written_seldom(django_assert_max_num_queries):
    def chatter(row, progress):
        for number in range(10_000):
            progress(number / 100, "one step")
        return {}

    row = ask()
    with django_assert_max_num_queries(100):
        run(row, chatter)


def test_a_refusal_is_an_answer_stored_once(sent):
    row = run(ask(), refuse)
    assert (row.state, row.error) == ("failed", "The file has no solid in it. Ask the customer for a solid model.")
    assert (work.sweep(), sent) == (0, [row.pk])


def test_broken_work_waits_for_another_try(sent):
    row = run(ask(), break_down)
    assert (row.state, row.attempts) == ("waiting", 1)
    assert (work.sweep(), sent) == (1, [row.pk, row.pk])


def test_work_that_breaks_on_every_try_fails_with_a_reason():
    row = ask()
    for _ in range(work.MAX_ATTEMPTS):
        run(row, break_down)
    assert (row.state, row.attempts) == ("failed", work.MAX_ATTEMPTS)
    assert "after 3 tries" in row.error
    assert "the network is gone" in row.error


def test_what_save_writes_goes_when_save_breaks():
    def half(row, result):
        adding.note(row, result)
        raise ConnectionError("the network is gone")

    row = run(ask(), save=half)
    assert (row.state, row.result, LedgerRow.objects.count()) == ("waiting", None, 0)


def test_a_result_that_is_no_json_breaks_the_try():
    assert run(ask(), lambda row, progress: {"x": object()}).state == "waiting"


# Claims


def test_of_eight_workers_at_once_one_gets_the_work():
    row, claims = ask(), []
    in_threads(8, lambda number: claims.append(work.claim(row.pk)))
    assert [claim.attempts for claim in claims if claim] == [1]


def test_running_work_is_not_taken():
    row = ask()
    work.claim(row.pk)
    assert work.claim(row.pk) is None


def test_abandoned_work_is_taken_over():
    row = ask()
    work.claim(row.pk)
    abandon(row)
    assert work.claim(row.pk).attempts == 2


def test_work_out_of_tries_is_not_taken():
    row = ask()
    Work.objects.update(attempts=work.MAX_ATTEMPTS)
    assert work.claim(row.pk) is None


def taken_over_while_computing(row, then):
    """A compute during which another worker takes the work over; then says what the old one does next."""

    def compute(mine, progress):
        abandon(mine)
        assert work.claim(mine.pk).attempts == 2
        return then(progress)

    return work.run(row.pk, compute, save=adding.note)


@pytest.mark.parametrize(
    "then",
    [
        lambda progress: {"sum": -1},
        lambda progress: progress(99, "still here"),
        lambda progress: refuse(None, progress),
        lambda progress: break_down(None, progress),
    ],
    ids=["finishes", "says progress", "refuses", "breaks"],
)
def test_who_lost_the_claim_can_write_nothing(then):
    row = ask()
    taken_over_while_computing(row, then)
    row.refresh_from_db()
    assert (row.state, row.attempts, row.result, row.error, row.step) == ("running", 2, None, "", "")
    assert not LedgerRow.objects.exists()


def test_who_lost_the_claim_is_told_by_progress():
    row, told = ask(), []

    def then(progress):
        with pytest.raises(work.ClaimLost):
            progress(50)
        told.append(True)
        return {}

    taken_over_while_computing(row, then)
    assert told == [True]


def test_an_old_worker_does_not_pass_for_a_new_one_after_a_retry(lead):
    """attempts never goes back, or a worker paused in its first try could write into the first try after a retry."""
    row = ask()
    old = work.claim(row.pk)
    Work.objects.update(state=Work.State.FAILED)
    work.retry(row, by=lead)
    new = work.claim(row.pk)
    assert (work._mine(old).count(), work._mine(new).count()) == (0, 1)


# The heartbeat


def test_the_heart_beats_while_the_work_computes(monkeypatch):
    monkeypatch.setattr(heartbeat, "BEAT_EVERY_S", 0.01)
    row = ask()

    def wait_for_a_beat(mine, progress):
        long_ago = timezone.now() - timedelta(hours=1)
        Work.objects.filter(pk=mine.pk).update(heartbeat_at=long_ago)
        given_up = time.monotonic() + 60
        while Work.objects.get(pk=mine.pk).heartbeat_at == long_ago:
            assert time.monotonic() < given_up
        return {}

    assert run(row, wait_for_a_beat).state == "done"


def test_the_heart_tells_a_worker_that_says_no_progress_that_its_claim_is_lost(monkeypatch):
    monkeypatch.setattr(heartbeat, "BEAT_EVERY_S", 0.01)
    row = ask()
    mine = work.claim(row.pk)
    with heartbeat.Heartbeat(work._mine(mine)) as beating:
        Work.objects.update(attempts=2)
        assert beating._lost.wait(30)
    assert beating.is_lost


def test_no_heart_beats_in_an_open_transaction_which_nobody_else_can_see():
    row, beating = ask(), []

    def look(mine, progress):
        beating.extend(thread for thread in threading.enumerate() if thread.name == "heartbeat")
        return {}

    with transaction.atomic():
        assert run(row, look).state == "done"
    assert beating == []


def test_the_heart_stops_with_the_work(monkeypatch):
    monkeypatch.setattr(heartbeat, "BEAT_EVERY_S", 0.01)
    run(ask())
    assert [thread.name for thread in threading.enumerate() if thread.name == "heartbeat"] == []


def test_a_database_that_is_away_for_one_beat_does_not_end_the_work(monkeypatch, caplog):
    monkeypatch.setattr(heartbeat, "BEAT_EVERY_S", 0.01)
    row = ask()
    mine = work.claim(row.pk)
    with heartbeat.Heartbeat(_FailsOnce(work._mine(mine))) as beating:
        assert beating._mine.beaten.wait(30)
    assert not beating.is_lost
    assert "could not be written" in caplog.text


class _FailsOnce:
    def __init__(self, mine):
        self.mine, self.beaten, self.failed = mine, threading.Event(), False

    def all(self):
        return self

    def update(self, **given):
        from django.db import OperationalError as DatabaseAway

        if not self.failed:
            self.failed = True
            raise DatabaseAway("server closed the connection")
        done = self.mine.update(**given)
        self.beaten.set()
        return done


# The sweep


def test_the_sweep_sends_work_whose_message_was_lost(sent):
    row = ask()
    Work.objects.update(sent_at=timezone.now() - timedelta(hours=1))
    assert (work.sweep(), sent) == (1, [row.pk, row.pk])


def test_the_sweep_sends_nothing_twice_in_a_short_time(sent):
    ask()
    assert work.sweep() == 0


def test_the_sweep_leaves_running_work_alone(sent):
    row = ask()
    work.claim(row.pk)
    Work.objects.update(sent_at=None)
    assert work.sweep() == 0
    assert Work.objects.get(pk=row.pk).state == "running"


def test_the_sweep_sends_abandoned_work(sent):
    row = ask()
    work.claim(row.pk)
    Work.objects.update(sent_at=None)
    abandon(row)
    assert work.sweep() == 1


def test_the_sweep_fails_abandoned_work_that_is_out_of_tries():
    row = ask()
    for _ in range(work.MAX_ATTEMPTS):
        work.claim(row.pk)
        abandon(row)
    work.sweep()
    row.refresh_from_db()
    assert (row.state, row.heartbeat_at) == ("failed", None)
    assert "after 3 tries" in row.error
    assert "the worker was lost" in row.error


def test_the_sweep_goes_on_after_work_of_an_unknown_kind(sent, caplog):
    strange, known = ask(1), ask(2)
    Work.objects.update(sent_at=None)
    Work.objects.filter(pk=strange.pk).update(kind="from a newer version")
    sent.clear()
    assert (work.sweep(), sent) == (1, [known.pk])
    assert "from a newer version" in caplog.text


# Once more


def test_failed_work_is_tried_again_when_a_person_asks(sent, lead):
    row = run(ask(), refuse)
    work.retry(row, by=lead)
    assert sent == [row.pk, row.pk]
    assert run(row).state == "done"


def test_who_asked_for_another_try_is_in_the_ledger(lead):
    row = run(ask(), refuse)
    work.retry(row, by=lead)
    noted = ledger.rows_for("shop").get()
    assert (noted.kind, noted.subject, noted.by_id) == ("work_retried", ("work", row.pk), lead.pk)


def test_done_work_is_not_tried_again(sent, lead):
    row = run(ask())
    work.retry(row, by=lead)
    row.refresh_from_db()
    assert (row.state, LedgerRow.objects.count(), len(sent)) == ("done", 0, 1)


def test_finished_work_is_done_again_when_its_cached_result_is_gone(sent):
    row = run(ask())
    in_threads(4, lambda number: work.redo(row))
    assert sent == [row.pk, row.pk]
    assert (run(row).state, row.attempts) == ("done", 2)


def test_failed_work_is_not_done_again_without_a_person(sent):
    row = run(ask(), refuse)
    work.redo(row)
    assert (Work.objects.get().state, len(sent)) == ("failed", 1)


def test_connections_of_the_heart_are_closed(monkeypatch):
    """On PostgreSQL an open one would keep a place on the server for each piece of work ever done."""
    closed = []
    monkeypatch.setattr(heartbeat, "BEAT_EVERY_S", 0.01)
    monkeypatch.setattr(heartbeat, "connection", _Watched(closed))
    run(ask())
    assert closed == ["heartbeat"]


class _Watched:
    def __init__(self, closed):
        self._closed = closed

    def close(self):
        self._closed.append(threading.current_thread().name)
        connections["default"].close()

    def __getattr__(self, name):
        return getattr(connections["default"], name)
