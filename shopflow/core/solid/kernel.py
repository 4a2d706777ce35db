"""The caller's end of the warm parent: starts it, sends it requests, says in plain words how each ended."""

from __future__ import annotations

import atexit
import json
import os
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from shopflow.core.errors import CoreError
from shopflow.core.solid.request import Request

Progress = Callable[[str], None]

_ROOT = Path(__file__).resolve().parents[3]
_START_S = 60.0
_GRACE_S = 20.0
_KEPT = ("PATH", "HOME", "LANG", "LC_ALL", "TMPDIR", "LD_LIBRARY_PATH", "VIRTUAL_ENV")
# One thread each: a fork of a process with threads may find a lock held by a thread that it does not have.
_ONE_THREAD = dict.fromkeys(
    ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMEXPR_NUM_THREADS", "MALLOC_ARENA_MAX"), "1"
)


class KernelFailed(CoreError):
    """The geometry process cannot be started or does not answer: a fault of the installation, not of the file."""


@dataclass(frozen=True)
class Outcome:
    """How one attempt ended. end: "exit", "signal" or "time"; step: what it was doing last. peak_bytes: the most memory
    that one of its processes held, the imported library among it. cpu_s: processor time of all of its processes."""

    end: str
    step: str
    code: int | None = None
    signal: int | None = None
    peak_bytes: int = 0
    cpu_s: float = 0.0


class Kernel:
    """One warm parent, started at the first request; it lives as long as this object and dies with this process.

    work: the module whose `perform(request, step)` runs in each child. Requests from several threads wait in line.
    peak_bytes: the most memory that one process of a read has held so far. cpu_s: processor time of all reads so far.
    """

    def __init__(self, work: str = "shopflow.core.solid.work") -> None:
        self.work = work
        self.threads_at_start = 0
        self.peak_bytes = 0
        self.cpu_s = 0.0
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._channel: socket.socket | None = None
        self._lines: IO[bytes] | None = None

    @property
    def pid(self) -> int | None:
        """Process number of the warm parent, None while there is none."""
        return self._process.pid if self._process else None

    def run(self, request: Request, progress: Progress | None = None) -> Outcome:
        """Run one attempt and say how it ended. Raises KernelFailed when the warm parent itself cannot be had."""
        with self._lock:
            for last_try in (False, True):
                try:
                    self._start()
                    return self._exchange(request, progress)
                except (OSError, EOFError) as error:
                    self._stop()
                    if last_try:
                        raise KernelFailed(f"The geometry process ended without an answer ({error}).") from error
        raise AssertionError("the loop returns or raises")

    def close(self) -> None:
        """End the warm parent and whatever it runs."""
        with self._lock:
            self._stop()

    def forget(self) -> None:
        """In a fork of the owner: let go of the warm parent without ending it."""
        for end in (self._lines, self._channel):
            if end:
                end.close()
        if self._process:
            self._process.returncode = 0  # not ours to wait for
        self._lock = threading.Lock()
        self._process = self._channel = self._lines = None

    def _start(self) -> None:
        if self._process and self._process.poll() is None:
            return
        self._stop()
        ours, theirs = socket.socketpair()
        command = [sys.executable, "-m", "shopflow.core.solid.warm", str(os.getpid()), str(theirs.fileno()), self.work]
        with tempfile.TemporaryFile() as complaints, theirs:
            self._process = subprocess.Popen(
                command,
                env=_environment(),
                cwd=_ROOT,
                pass_fds=[theirs.fileno()],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=complaints,
            )
            theirs.close()
            self._channel, self._lines = ours, ours.makefile("rb")
            self.threads_at_start = self._first_answer(complaints)

    def _first_answer(self, complaints: IO[bytes]) -> int:
        try:
            message = self._receive(time.monotonic() + _START_S)
        except (OSError, EOFError) as error:
            self._stop()
            complaints.seek(0)
            last = complaints.read()[-2000:].decode("utf-8", "replace").strip().splitlines()[-1:]
            raise KernelFailed(f"The geometry process does not start: {''.join(last) or error}") from error
        return int(message["threads"])

    def _exchange(self, request: Request, progress: Progress | None) -> Outcome:
        assert self._channel is not None
        deadline = time.monotonic() + request.limits.wall_s + _GRACE_S
        self._channel.sendall(json.dumps(request.to_json()).encode() + b"\n")
        while True:
            message = self._receive(deadline)
            if "end" in message:
                outcome = Outcome(**message)
                self.peak_bytes = max(self.peak_bytes, outcome.peak_bytes)
                self.cpu_s += outcome.cpu_s
                return outcome
            if progress:
                progress(message["step"])

    def _receive(self, deadline: float) -> dict[str, Any]:
        assert self._channel is not None and self._lines is not None
        self._channel.settimeout(max(0.1, deadline - time.monotonic()))
        line = self._lines.readline()
        if not line:
            raise EOFError("its channel is closed")
        message: dict[str, Any] = json.loads(line)
        return message

    def _stop(self) -> None:
        process, channel, lines = self._process, self._channel, self._lines
        self._process = self._channel = self._lines = None
        if lines:
            lines.close()
        if channel:
            channel.close()
        if process:
            _end(process)


def _end(process: subprocess.Popen[bytes]) -> None:
    """Wait for a process whose channel is closed, and kill it when it does not go by itself."""
    try:
        process.wait(timeout=2)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def _environment() -> dict[str, str]:
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    return kept | _ONE_THREAD | {"PYTHONPATH": str(_ROOT)}


_shared: Kernel | None = None
_shared_lock = threading.Lock()


def kernel() -> Kernel:
    """The one warm parent of this process, made at the first call; a fork of this process gets its own."""
    global _shared
    with _shared_lock:
        if _shared is None:
            _shared = Kernel()
        return _shared


def _forget_after_fork() -> None:
    global _shared, _shared_lock
    _shared_lock = threading.Lock()
    if _shared is not None:
        _shared.forget()
        _shared = None


def _close_at_exit() -> None:
    if _shared is not None:
        _shared.close()


os.register_at_fork(after_in_child=_forget_after_fork)
atexit.register(_close_at_exit)
