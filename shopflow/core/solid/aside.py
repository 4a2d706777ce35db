"""Work done at the same time in a fork of the child: uses the second core, and a crash in it is only its own."""

from __future__ import annotations

import os
import select
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass

from shopflow.core.solid import confine

_CHUNK = 1 << 20


class AsideFailed(Exception):
    """The helper ended without a result; the text says how: "time", "signal 11", "exit 1", "size"."""


@dataclass
class Aside:
    """A running helper. pipe: where its result, plain bytes, comes from."""

    pid: int
    pipe: int

    def result(self, *, deadline: float, limit_bytes: int) -> bytes:
        """Wait for the bytes; raises AsideFailed when the helper fails, is late (time.monotonic) or says too much."""
        chunks: list[bytes] = []
        try:
            while True:
                ready = select.select([self.pipe], [], [], max(0.0, deadline - time.monotonic()))[0]
                if not ready:
                    raise AsideFailed("time")
                chunk = os.read(self.pipe, _CHUNK)
                if not chunk:
                    break
                chunks.append(chunk)
                if sum(map(len, chunks)) > limit_bytes:
                    raise AsideFailed("size")
        finally:
            status = self._end()
        if os.WIFSIGNALED(status) and os.WTERMSIG(status) != signal.SIGKILL:
            raise AsideFailed(f"signal {os.WTERMSIG(status)}")
        data = b"".join(chunks)
        if data[:1] != b"+":
            raise AsideFailed("no result")
        return data[1:]

    def _end(self) -> int:
        """Close the pipe and reap; the helper has said everything, or is not wanted any more."""
        os.close(self.pipe)
        os.kill(self.pid, signal.SIGKILL)
        return os.waitpid(self.pid, 0)[1]


def start(work: Callable[[], bytes]) -> Aside:
    """Run work in a fork and return at once; it shares this process's bounds and process group."""
    read, write = os.pipe()
    parent = os.getpid()
    pid = os.fork()
    if pid == 0:
        try:
            os.close(read)
            confine.die_with_parent(parent)
            _write_all(write, b"+" + work())
            os._exit(0)
        finally:
            os._exit(1)
    os.close(write)
    return Aside(pid, read)


def _write_all(pipe: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        view = view[os.write(pipe, view) :]
