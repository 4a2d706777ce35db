"""Work that goes wrong on purpose, as its file's name says; a warm parent runs it only when a test names this module.

"segfault-first.step" fails in the attempt with annotations only, "segfault-always.step" in both.
"""

import contextlib
import ctypes
import os
import time
from pathlib import Path

from shopflow.core.solid import work
from shopflow.core.solid.request import MESH_FILE, READING_FILE


def perform(request, step):
    fault, _, when = Path(request.path).stem.partition("-")
    if fault in FAULTS and (when == "always" or request.annotations):
        step("reading")
        FAULTS[fault](request)
    else:
        work.perform(request, step)


def _segfault(request):
    ctypes.string_at(1)


def _abort(request):
    os.abort()


def _hang(request):
    if os.fork() == 0:  # a helper that would outlive a kill of the child alone
        time.sleep(600)
    time.sleep(600)


def _spin(request):
    while True:
        pass


def _hoard(request):
    hoard = []
    while True:
        hoard.append(bytearray(16 << 20))


def _garbage(request):
    for descriptor in range(3, 20):
        with contextlib.suppress(OSError):
            os.write(descriptor, b'{"end": "exit", "code": 0}\n\x00\xff' * 50)
    os.write(1, b"garbage" * 1000)
    Path(request.out, READING_FILE).write_bytes(b"\x00\xffgarbage")
    Path(request.out, MESH_FILE).write_bytes(b"SFM1garbage")


def _flood(request):
    with Path(request.out, READING_FILE).open("wb") as handle:
        while True:
            handle.write(b"x" * (1 << 20))


def _raise(request):
    raise RuntimeError("on purpose")


def _leave(request):
    os._exit(0)


FAULTS = {
    "segfault": _segfault,
    "abort": _abort,
    "hang": _hang,
    "spin": _spin,
    "hoard": _hoard,
    "garbage": _garbage,
    "flood": _flood,
    "raise": _raise,
    "leave": _leave,
}
