"""Real worker processes, killed and paused at points drawn by lot: the work is done once, or says why not."""

import os
import random
import signal
import time

import pytest

from shopflow.records import ledger, work
from shopflow.records.models import LedgerRow, Work
from tests.records import adding, tasks

from .conftest import child

pytestmark = [pytest.mark.both_databases, pytest.mark.django_db(transaction=True)]
ABANDONED_AFTER_S = "0.3"


@pytest.fixture(autouse=True)
def no_broker(monkeypatch):
    monkeypatch.setitem(work.TASKS, "add", "tests.records.tasks.add")
    monkeypatch.setattr(tasks.add, "delay", lambda work_id: None)


def ask() -> Work:
    return work.ask("add", {"number": 1}, version="1", subject=("job", 1))


def start(row: Work, step_s: float = 0.01):
    process = child("work", row.pk, ADDING_PAUSE_S=str(step_s), ABANDONED_AFTER_S=ABANDONED_AFTER_S)
    assert process.stdout.readline() == "ready\n"
    return process


def said(process) -> str:
    with process.stdout:
        return process.stdout.read().strip()


def kill(process) -> None:
    process.kill()
    process.wait()
    process.stdout.close()


def wait_until_running(row: Work, attempts: int) -> None:
    given_up = time.monotonic() + 120
    while not Work.objects.filter(pk=row.pk, state="running", attempts=attempts).exists():
        assert time.monotonic() < given_up
        time.sleep(0.005)


@pytest.mark.parametrize("seed", range(3))
def test_work_of_killed_workers_is_finished_exactly_once(seed):
    """Each worker but the last dies after a random part of its twenty steps of 10 ms, or just before or after them."""
    dice, row = random.Random(seed), ask()
    for _ in range(work.MAX_ATTEMPTS - 1):
        process = start(row)
        time.sleep(dice.random() * 0.3)
        kill(process)
        time.sleep(float(ABANDONED_AFTER_S) + 0.05)
    process = start(row)
    process.wait()
    said(process)
    row.refresh_from_db()
    assert (row.state, row.result) == ("done", {"sum": adding.SUM})
    assert [noted.data for noted in ledger.rows_for("job:1")] == [{"sum": adding.SUM}]


def test_work_that_kills_every_worker_ends_as_failed_with_a_reason(monkeypatch):
    row = ask()
    for attempt in range(1, work.MAX_ATTEMPTS + 1):
        process = start(row, step_s=10)
        wait_until_running(row, attempt)
        kill(process)
        time.sleep(float(ABANDONED_AFTER_S) + 0.05)
    monkeypatch.setattr(work, "ABANDONED_AFTER", work.timedelta(seconds=float(ABANDONED_AFTER_S)))
    work.sweep()
    row.refresh_from_db()
    assert (row.state, LedgerRow.objects.count()) == ("failed", 0)
    assert "the worker was lost" in row.error


def test_a_worker_paused_until_another_took_over_can_write_nothing_when_it_comes_back():
    row = ask()
    paused = start(row, step_s=0.05)
    wait_until_running(row, 1)
    os.kill(paused.pid, signal.SIGSTOP)
    time.sleep(float(ABANDONED_AFTER_S) + 0.05)
    successor = start(row)
    successor.wait()
    os.kill(paused.pid, signal.SIGCONT)
    paused.wait()
    assert (said(paused), said(successor)) == ("lost", "done")
    row.refresh_from_db()
    assert (row.state, row.attempts, row.result) == ("done", 2, {"sum": adding.SUM})
    assert LedgerRow.objects.count() == 1


def test_a_worker_that_comes_back_while_its_successor_works_leaves_it_alone():
    row = ask()
    paused = start(row, step_s=0.05)
    wait_until_running(row, 1)
    os.kill(paused.pid, signal.SIGSTOP)
    time.sleep(float(ABANDONED_AFTER_S) + 0.05)
    successor = start(row, step_s=0.05)
    wait_until_running(row, 2)
    os.kill(paused.pid, signal.SIGCONT)
    paused.wait()
    successor.wait()
    assert (said(paused), said(successor)) == ("lost", "done")
    assert LedgerRow.objects.count() == 1
