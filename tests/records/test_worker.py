"""Real Celery workers on a real Redis: killed and robbed of their messages, they lose no work and do none twice."""

import os
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
import redis
from django.utils import timezone
from kombu import Connection

from shopflow.records import ledger, protect, work
from shopflow.records.models import Work
from tests.records import adding, tasks
from tests.services import private_redis

from .conftest import ROOT, environment_of_a_child

pytestmark = [pytest.mark.both_databases, pytest.mark.django_db(transaction=True)]


@pytest.fixture(scope="module")
def broker():
    return private_redis()


@pytest.fixture(autouse=True)
def emptied_broker(broker, monkeypatch):
    """Work asked for here goes to the private Redis."""
    monkeypatch.setitem(work.TASKS, "add", "tests.records.tasks.add")
    with Connection(broker) as connection:
        monkeypatch.setattr(tasks.add, "delay", lambda pk: tasks.add.apply_async([pk], connection=connection))
        yield
    empty(broker)


@pytest.fixture
def start_worker(broker):
    started = []

    def start(pause_s: float = 0.0) -> subprocess.Popen:
        command = ["celery", "-A", "shopflow", "-b", broker, "-q", "worker", "-c", "1", "-I", "tests.records.tasks"]
        environment = environment_of_a_child(ADDING_PAUSE_S=str(pause_s))
        worker = subprocess.Popen(
            ["setpriv", "--pdeathsig", "KILL", "--", sys.executable, "-m", *command],
            cwd=ROOT,
            env=environment,
            start_new_session=True,
        )
        started.append(worker)
        return worker

    yield start
    for worker in started:
        kill(worker)


def kill(worker: subprocess.Popen) -> None:
    """The worker and its pool at once, as a loss of power does."""
    if worker.poll() is None:
        os.killpg(worker.pid, signal.SIGKILL)
        worker.wait()


def empty(broker: str) -> None:
    with redis.Redis(unix_socket_path=broker.removeprefix("redis+socket://")) as server:
        server.flushall()


def ask() -> Work:
    return work.ask("add", {"number": 1}, version="1", subject=("job", 1))


def wait_for(row: Work, state: str) -> Work:
    given_up = time.monotonic() + 120  # a worker that cannot start says why on the standard error
    while Work.objects.get(pk=row.pk).state != state and time.monotonic() < given_up:
        time.sleep(0.02)
    row.refresh_from_db()
    assert row.state == state
    return row


def sweep_later() -> int:
    """The sweep as it is an hour after the last message and the last heartbeat."""
    Work.objects.update(sent_at=timezone.now() - timedelta(hours=1))
    Work.objects.filter(state="running").update(heartbeat_at=timezone.now() - timedelta(hours=1))
    return work.sweep()


def sums() -> list[dict]:
    return [row.data for row in ledger.rows_for("job:1")]


def test_work_asked_for_is_done_by_a_worker(start_worker):
    start_worker()
    row = wait_for(ask(), "done")
    assert (row.result, row.attempts, sums()) == ({"sum": adding.SUM}, 1, [{"sum": adding.SUM}])


def test_work_of_a_killed_worker_is_done_once_by_the_next_although_the_broker_was_emptied(start_worker, broker):
    worker = start_worker(pause_s=60)
    row = wait_for(ask(), "running")
    kill(worker)
    empty(broker)
    start_worker()
    assert sweep_later() == 1
    assert (wait_for(row, "done").attempts, sums()) == (2, [{"sum": adding.SUM}])


def test_a_worker_whose_pool_process_was_killed_takes_the_work_up_again(start_worker):
    worker = start_worker(pause_s=0.2)
    row = wait_for(ask(), "running")
    (pool_process,) = Path(f"/proc/{worker.pid}/task/{worker.pid}/children").read_text().split()
    os.kill(int(pool_process), signal.SIGKILL)
    sweep_later()
    assert (wait_for(row, "done").attempts, sums()) == (2, [{"sum": adding.SUM}])
    assert worker.poll() is None


def test_a_worker_does_not_start_on_tables_that_can_be_rewritten(start_worker):
    with protect.lifted():
        assert start_worker().wait() != 0


def test_one_message_delivered_many_times_is_done_once(start_worker):
    row = ask()
    for _ in range(5):
        tasks.add.delay(row.pk)
    start_worker()
    wait_for(row, "done")
    assert (Work.objects.get(pk=row.pk).attempts, sums()) == (1, [{"sum": adding.SUM}])
