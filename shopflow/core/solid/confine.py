"""Bounds that a forked child puts on itself before it opens a file from outside."""

from __future__ import annotations

import ctypes
import os
import resource
import signal

from shopflow.core.solid.limits import Limits

_PR_SET_PDEATHSIG = 1  # linux/prctl.h
_OPEN_FILES = 64
_CPU_MARGIN_S = 5
# Loaded before any fork: loading a library is not something to do in a child that may be short of memory.
_LIBC = ctypes.CDLL(None, use_errno=True)


def die_with_parent(parent_pid: int) -> None:
    """Be killed when the parent ends; the system watches the forking thread, so the parent must have only one."""
    _LIBC.prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
    if os.getppid() != parent_pid:
        os._exit(1)


def bound_resources(limits: Limits) -> None:
    """Set limits on memory, processor time, size of any file written, open files and core dumps, for good."""
    for what, bound in (
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_AS, limits.memory_bytes),
        (resource.RLIMIT_FSIZE, limits.output_bytes),
        (resource.RLIMIT_NOFILE, _OPEN_FILES),
    ):
        resource.setrlimit(what, (bound, bound))
    # The soft bound ends the child with a signal of its own, by which the cause is known; the hard one is only a kill.
    resource.setrlimit(resource.RLIMIT_CPU, (limits.cpu_s, limits.cpu_s + _CPU_MARGIN_S))


def silence() -> None:
    """Send what the library prints to nowhere; it prints to standard output while it reads."""
    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(nowhere, descriptor)
    os.close(nowhere)


def threads() -> int:
    """How many threads this process has (Linux)."""
    return len(os.listdir("/proc/self/task"))
