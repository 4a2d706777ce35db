"""The supervisor's processes, with small ones in place of a shop's: what it starts it stops, whatever happens to it."""

import contextlib
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.live_shop import is_running
from tests.services import ROOT

SUPERVISOR = """
import os, sys, time
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
from shopflow.deploy import family, serve
from shopflow.deploy.refusal import Refused

family.STOP_SECONDS = 0.3
serve.stop_on_signals()
ours = family.Family()
status = 0
try:
    ours.start("first", ["sh", "-c", "sleep 600 & echo first-child $! first $$; wait"])
    ours.start("second", ["sh", "-c", "(setsid sleep 600 & echo runaway $!); echo second $$; exec sleep 600"])
    ours.start("stubborn", ["sh", "-c", "trap '' TERM; echo stubborn $$; while :; do sleep 0.1; done"])
    family.say("all started")
    while True:
        ours.check()
        time.sleep(0.02)
except serve.Stopped:
    pass
except Refused as refusal:
    family.say(str(refusal))
    status = 1
finally:
    serve.let_nothing_interrupt()
    ours.stop()
sys.exit(status)
"""
PATIENCE = 60


class Supervisor:
    def __init__(self, folder):
        self.log = folder / "output.txt"
        with self.log.open("wb") as log:
            # The tests may run under nohup, which hands an ignored SIGHUP down.
            command = ["env", "--default-signal=HUP", sys.executable, "-c", SUPERVISOR]
            self.process = subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log)

    def output(self):
        return self.log.read_text()

    def processes(self):
        """Process ids by name, as the children said them, in whatever order they came to it."""
        return {name: int(pid) for name, pid in re.findall(r"([\w-]+) (\d+)\b", self.output())}

    def left(self):
        return [name for name, pid in self.processes().items() if is_running(pid)]

    def ends(self):
        return self.process.wait(PATIENCE)


def wait_until(is_so):
    deadline = time.monotonic() + PATIENCE
    while not is_so():
        assert time.monotonic() < deadline, "nothing happened"
        time.sleep(0.02)


@pytest.fixture
def supervisor(tmp_path):
    started = Supervisor(tmp_path)
    wait_until(lambda: len(started.processes()) == 5 and "all started" in started.output())
    yield started
    if started.process.poll() is None:
        started.process.kill()
        started.process.wait()
    for pid in started.processes().values():  # one of them does not heed the signal that a killed supervisor leaves
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)


def process_of(supervisor, word):
    """The child whose command holds this word."""
    children = Path(f"/proc/{supervisor.process.pid}/task/{supervisor.process.pid}/children").read_text().split()
    return next(int(pid) for pid in children if word in Path(f"/proc/{pid}/cmdline").read_text())


@pytest.mark.parametrize(
    "number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP], ids=lambda number: signal.Signals(number).name
)
def test_a_signal_stops_every_process_and_counts_as_success(supervisor, number):
    supervisor.process.send_signal(number)
    assert supervisor.ends() == 0
    assert supervisor.left() == []


def test_processes_are_stopped_in_the_reverse_order_of_their_start(supervisor):
    supervisor.process.terminate()
    supervisor.ends()
    stopped = [line.split()[1] for line in supervisor.output().splitlines() if line.startswith("Stopping")]
    assert stopped == ["stubborn", "second", "first"]


@pytest.mark.parametrize(("word", "name"), [("wait", "first"), ("sleep\x00600", "second"), ("trap", "stubborn")])
def test_the_end_of_one_process_ends_all_others_and_names_it(supervisor, word, name):
    os.kill(process_of(supervisor, word), signal.SIGKILL)
    assert supervisor.ends() == 1
    assert f"{name} ended by itself (status -9)" in supervisor.output()
    assert supervisor.left() == []


def test_a_killed_supervisor_takes_its_processes_along(supervisor):
    supervisor.process.kill()
    supervisor.process.wait()
    wait_until(lambda: {"first", "second"}.isdisjoint(supervisor.left()))
