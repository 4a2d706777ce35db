"""The processes of one shop: started in order, stopped in reverse, none left behind."""

import ctypes
import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from shopflow.deploy.refusal import Refused

STOP_SECONDS = 10
PR_SET_CHILD_SUBREAPER = 36  # prctl(2)


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


@dataclass
class Child:
    """One running process: its name for people and its group, which ends with it."""

    name: str
    process: subprocess.Popen[bytes]


class Family:
    """The processes of one shop, in the order in which they were started."""

    def __init__(self) -> None:
        self.children: dict[int, Child] = {}
        # Orphans of a child (a pool's process, a geometry process) come to us instead of init, and end with us.
        ctypes.CDLL(None, use_errno=True).prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)

    def start(
        self, name: str, command: list[str], *, hand_on: tuple[int, ...] = (), told: dict[str, str] | None = None
    ) -> None:
        say(f"Starting {name}")
        dies_with_us = ["setpriv", "--pdeathsig", "TERM", "--"]
        process = subprocess.Popen(
            [*dies_with_us, *command],
            cwd=settings.BASE_DIR,
            env=os.environ | (told or {}),
            stdin=subprocess.DEVNULL,
            pass_fds=hand_on,
            start_new_session=True,  # Ctrl-C reaches the supervisor alone, which stops them in order
        )
        self.children[process.pid] = Child(name, process)

    def reap(self) -> Child | None:
        """Collect one process that ended; the child it was, or None when none ended or an orphan did."""
        try:
            pid, status = os.waitpid(-1, os.WNOHANG)
        except ChildProcessError:
            return None
        child = self.children.pop(pid, None)
        if child is not None:
            child.process.returncode = os.waitstatus_to_exitcode(status)
            signal_group(pid, signal.SIGKILL)
        return child

    def check(self) -> None:
        child = self.reap()
        if child is not None:
            raise Refused(f"{child.name} ended by itself (status {child.process.returncode}); all others are stopped")

    def stop(self) -> None:
        """Stop in reverse order, the worker before the Redis it speaks to; then whatever is left of them."""
        for pid, child in reversed(list(self.children.items())):
            say(f"Stopping {child.name}")
            os.kill(pid, signal.SIGTERM)
            self._wait_for(pid)
        for pid in orphans():
            os.kill(pid, signal.SIGKILL)

    def _wait_for(self, pid: int) -> None:
        deadline = time.monotonic() + STOP_SECONDS
        while pid in self.children:
            if time.monotonic() > deadline:
                signal_group(pid, signal.SIGKILL)
            self.reap()
            time.sleep(0.02)


def signal_group(group: int, number: int) -> None:
    with suppress(ProcessLookupError):
        os.killpg(group, number)


def orphans() -> list[int]:
    """Processes that came to us when their parent ended."""
    try:
        return [int(pid) for pid in Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()]
    except FileNotFoundError:
        return []  # a kernel built without CONFIG_PROC_CHILDREN
