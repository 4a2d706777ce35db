"""Empty tables of a shop, kept between runs of the tests: to bring them up through every migration takes five seconds.

Kept by a hash of the migrations and of what else makes tables and triggers, so that whatever changes is run. The first
process of a run lays them out, the others wait for it and copy.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
import sqlite3
from pathlib import Path
from typing import IO

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / ".data" / "cache" / "tests"


def _digest() -> str:
    sources = sorted([*ROOT.glob("shopflow/*/migrations/*.py"), *ROOT.glob("shopflow/records/protect*.py")])
    found = hashlib.sha256(sqlite3.sqlite_version.encode())
    for source in [*sources, ROOT / "requirements.txt"]:
        found.update(f"{source.relative_to(ROOT)}\n".encode() + source.read_bytes())
    return found.hexdigest()[:24]


class EmptyTables:
    """`begin` before the tables are laid out, `keep` after; in between no other process lays out the same."""

    def __init__(self) -> None:
        self.kept = FOLDER / f"{_digest()}.sqlite3"
        self._lock: IO[str] | None = None

    def begin(self, database: str) -> None:
        FOLDER.mkdir(parents=True, exist_ok=True)
        self._lock = (FOLDER / "lock").open("w")
        fcntl.flock(self._lock, fcntl.LOCK_EX)
        if self.kept.exists():
            shutil.copyfile(self.kept, database)
            self._release()

    def keep(self, connection: sqlite3.Connection) -> None:
        if self._lock is None:
            return
        made = FOLDER / f"{os.getpid()}.new"
        target = sqlite3.connect(made)
        connection.backup(target)
        target.close()
        for older in FOLDER.glob("*.sqlite3"):
            older.unlink()
        made.rename(self.kept)
        self._release()

    def _release(self) -> None:
        if self._lock:
            self._lock.close()
        self._lock = None
