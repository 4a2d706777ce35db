"""The warm parent: a process with the geometry library imported and one thread, which forks one child for each read.

Started by `kernel.Kernel` as `python -m shopflow.core.solid.warm CLIENT_PID CHANNEL_FD WORK_MODULE`, never forked from
the caller, whose threads would leave locks held for ever in a fork. It ends when its client does: the channel reaches
its end, or the process has another parent than the one that started it. Messages are JSON, one line each.
The work module has `perform(request, step)`, and may have `warm_up()`, run once before the first request.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import json
import os
import resource
import select
import signal
import socket
import sys
import time
import traceback
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

from shopflow.core.errors import Unreadable
from shopflow.core.solid import confine
from shopflow.core.solid.request import ERROR_FILE, REFUSAL_FILE, STEPS, Request
from shopflow.core.solid.warm_codes import DONE, FAILED, OUT_OF_MEMORY, REFUSED

_ERROR_CHARACTERS = 4000
_TICK_S = 0.5
_REAP_TICK_S = 0.003


@dataclass
class Child:
    """One running read. report: the pipe on which it names its steps and whose end shows that it has ended."""

    pid: int
    report: int
    deadline: float
    step: str = STEPS[0]
    unread: bytes = b""
    ended: bool = field(default=False)


class ClientGone(Exception):
    """Nobody waits for the answer any more."""


class Server:
    """Takes requests from one client and runs each in a child of its own, one at a time."""

    def __init__(self, channel: socket.socket, client_pid: int, work: ModuleType) -> None:
        self.channel, self.client_pid, self.work = channel, client_pid, work
        self.unread = b""

    def serve(self) -> None:
        """Answer requests until the client is gone."""
        self.send({"ready": True, "threads": confine.threads()})
        try:
            for line in self.lines():
                self.answer(Request.from_json(json.loads(line)))
        except ClientGone:
            pass

    def send(self, message: dict[str, Any]) -> None:
        try:
            self.channel.sendall(json.dumps(message).encode() + b"\n")
        except OSError as error:
            raise ClientGone from error

    def lines(self) -> Iterator[bytes]:
        """Each line of the channel; raises ClientGone at its end."""
        while True:
            self.watch_client()
            if select.select([self.channel], [], [], _TICK_S)[0]:
                self.receive()
            while b"\n" in self.unread:
                line, self.unread = self.unread.split(b"\n", 1)
                yield line

    def receive(self) -> None:
        received = self.channel.recv(65536)
        if not received:
            raise ClientGone
        self.unread += received

    def watch_client(self) -> None:
        # A copy of the channel may live on in a fork of the client, so its end alone is not enough to go by.
        if os.getppid() != self.client_pid:
            raise ClientGone

    def answer(self, request: Request) -> None:
        child = self.start(request)
        try:
            while not child.ended and time.monotonic() < child.deadline:
                self.follow(child)
            self.send(self.reap(child))
        finally:
            _kill_group(child.pid)

    def start(self, request: Request) -> Child:
        """Fork a child for the request, in its own process group."""
        report_read, report_write = os.pipe()
        parent = os.getpid()
        pid = os.fork()
        if pid == 0:
            try:
                os.setpgid(0, 0)
                confine.die_with_parent(parent)
                os.close(report_read)
                self.channel.close()
                os._exit(perform(self.work, request, report_write))
            finally:
                os._exit(FAILED)
        os.close(report_write)
        with contextlib.suppress(OSError):  # the child was first, or has ended: either way the group is right
            os.setpgid(pid, pid)
        return Child(pid, report_read, time.monotonic() + request.limits.wall_s)

    def follow(self, child: Child) -> None:
        """Wait a moment for the child to name a step or end, and for the client to go away."""
        self.watch_client()
        watched: list[Any] = [child.report, self.channel]
        ready = select.select(watched, [], [], min(_TICK_S, _left(child)))[0]
        if self.channel in ready:
            self.receive()
        if child.report in ready:
            self.forward(child, os.read(child.report, 4096))

    def forward(self, child: Child, received: bytes) -> None:
        """Pass known step words on; anything else on the pipe is dropped."""
        child.ended = not received
        *lines, child.unread = (child.unread + received)[-4096:].split(b"\n")
        for word in (line.decode("ascii", "replace") for line in lines):
            if word in STEPS:
                child.step = word
                self.send({"step": word})

    def reap(self, child: Child) -> dict[str, Any]:
        """How the child ended; kills its group first when it is out of time."""
        os.close(child.report)
        status, used = _wait(child)
        end: dict[str, Any] = {"end": "time", "step": child.step, "code": None, "signal": None}
        if status is None:
            _kill_group(child.pid)
            used = os.wait4(child.pid, 0)[2]
        assert used is not None
        end |= {"peak_bytes": used.ru_maxrss * 1024, "cpu_s": used.ru_utime + used.ru_stime}
        if status is None:
            return end
        if os.WIFSIGNALED(status):
            return end | {"end": "signal", "signal": os.WTERMSIG(status)}
        return end | {"end": "exit", "code": os.WEXITSTATUS(status)}


def _left(child: Child) -> float:
    return max(0.0, child.deadline - time.monotonic())


def _wait(child: Child) -> tuple[int | None, resource.struct_rusage | None]:
    """Status of the child and what it and its helpers used; None and None at the deadline.

    It may close its pipe and run on, so the end is not waited for.
    """
    while True:
        pid, status, used = os.wait4(child.pid, os.WNOHANG)
        if pid:
            return status, used
        if time.monotonic() >= child.deadline:
            return None, None
        time.sleep(_REAP_TICK_S)


def _kill_group(pid: int) -> None:
    """Kill what is left of a child's process group: its helpers may outlive it."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(pid, signal.SIGKILL)


def perform(work: ModuleType, request: Request, report: int) -> int:
    """In the child: bound it, run the work and turn its end into an exit code and a small file."""
    out = Path(request.out)
    os.chdir(out)
    os.umask(0o077)
    confine.silence()
    confine.bound_resources(request.limits)
    try:
        work.perform(request, lambda step: os.write(report, f"{step}\n".encode()))
        return DONE
    except Unreadable as error:
        (out / REFUSAL_FILE).write_text(json.dumps({"what": error.what, "where": error.where, "mend": error.mend}))
        return REFUSED
    except MemoryError:
        return OUT_OF_MEMORY
    except Exception:
        (out / ERROR_FILE).write_text(traceback.format_exc()[-_ERROR_CHARACTERS:])
        return FAILED


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Standard output and error go nowhere for a while; a fault that comes out is still told on the real ones."""
    said = os.dup(1), os.dup(2)
    confine.silence()
    try:
        yield
    finally:
        for kept, standard in zip(said, (1, 2), strict=True):
            os.dup2(kept, standard)
            os.close(kept)


def main() -> None:
    client_pid, channel, work = int(sys.argv[1]), int(sys.argv[2]), importlib.import_module(sys.argv[3])
    with _quiet():
        getattr(work, "warm_up", lambda: None)()
    # What is there now never becomes garbage: leave it out of collections, whose marks would copy shared pages.
    gc.collect()
    gc.freeze()
    Server(socket.socket(fileno=channel), client_pid, work).serve()


if __name__ == "__main__":
    main()
