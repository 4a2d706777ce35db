"""A whole shop as `make run` serves it, over a data folder of its own, for tests of pages and of the supervisor."""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.services import ROOT

READY = "shopflow is at "
NOT_INHERITED = {"DATABASE_URL", "DJANGO_SETTINGS_MODULE", "PORT", "REDIS_URL", "SITE_URL"}
PATIENCE = 180
"""Seconds after which a start or a stop counts as hanging; it asserts no speed."""


class LiveShop:
    """Started by `start`, stopped by `stop`; `address` is where it answers, `output()` what it said so far."""

    def __init__(self, **settings):
        self.folder = Path(tempfile.mkdtemp(prefix="sf-"))  # short: the path of a socket ends at 107 bytes
        self.log = self.folder / "output.txt"
        self.address = ""
        self.process = None
        inherited = {name: value for name, value in os.environ.items() if name not in NOT_INHERITED}
        self.environment = inherited | {
            "SHOPFLOW_DATA": str(self.folder / "data"),
            "SHOPFLOW_RUNTIME": str(self.folder / "run"),
            **settings,
        }

    def over_a_copy_of(self, other):
        """Begin with what another shop that does not run has laid out: tables and static files cost most of a start."""
        shutil.copytree(other.folder / "data", self.folder / "data")
        return self

    def launch(self, *arguments):
        """Start it and return at once; what it says goes to a fresh log."""
        with self.log.open("wb") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "shopflow.deploy.serve", *arguments],
                cwd=ROOT,
                env=self.environment,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
            )

    def start(self):
        """Start it and wait until it gives its address."""
        self.launch()
        self.wait_until(lambda: READY in self.output() or self.process.poll() is not None)
        if self.process.poll() is not None:
            raise AssertionError(f"the shop did not start:\n{self.output()}")
        self.address = self.output().rpartition(READY)[2].split()[0]

    def wait_until(self, is_so):
        deadline = time.monotonic() + PATIENCE
        while not is_so():
            if time.monotonic() > deadline:
                raise AssertionError(f"nothing happened within {PATIENCE} seconds:\n{self.output()}")
            time.sleep(0.05)

    def output(self):
        return self.log.read_text() if self.log.exists() else ""

    def manage(self, *arguments):
        """Run a manage.py command over this shop's data; what it printed."""
        command = [sys.executable, "manage.py", *arguments]
        done = subprocess.run(command, cwd=ROOT, env=self.environment, capture_output=True, text=True)
        if done.returncode:
            raise AssertionError(f"{' '.join(arguments)} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
        return done.stdout

    def python(self, code):
        """Run Python in this shop, with Django set up; what it printed."""
        return self.manage("shell", "--no-imports", "-c", code)

    def processes(self):
        """The process ids of the supervisor and all that descend from it."""
        parents = {int(path.name): _parent(path) for path in Path("/proc").iterdir() if path.name.isdigit()}
        found = {self.process.pid}
        while more := {pid for pid, parent in parents.items() if parent in found} - found:
            found |= more
        return found

    def stop(self, number=signal.SIGTERM):
        """Ask it to stop; the exit status it ended with."""
        if self.process.poll() is None:
            self.process.send_signal(number)
        return self.process.wait(PATIENCE)

    def remove(self):
        if self.process is not None:
            self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)


def _parent(path):
    try:
        return int((path / "stat").read_text().rpartition(")")[2].split()[1])
    except (FileNotFoundError, ProcessLookupError):
        return 0  # ended while we looked


def is_running(pid):
    """Whether a process exists and is more than a zombie that waits to be collected."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False
