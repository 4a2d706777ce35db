"""What lies in a backup folder, and whether it is all there.

states/20260301T210000.000000Z/    one state of the shop, a folder for each backup made
    database.sqlite3 or database.dump    the copy of the database
    files.txt                            the files that this copy names, as `sha256sum -c` reads them
    heads.txt                            the chain heads of this copy, as `verify_records --against` reads them
    manifest.json                        written last: a folder without it is half a backup and counts for nothing
files/                             the bytes of all states, by hash: each file lies here once
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError, NotPossible
from shopflow.records.places import Folder, Missing, sync_folder

FORMAT = 1
MANIFEST, FILES, HEADS = "manifest.json", "files.txt", "heads.txt"
TIME_IN_NAMES = "%Y%m%dT%H%M%S.%fZ"


class Damaged(CoreError):
    """A backup is not as its manifest says; the text names what is wrong."""


@dataclass(frozen=True)
class Manifest:
    """What a state holds, so that anything cut, changed or lost shows."""

    format: int
    made_at: str
    """UTC, ISO 8601."""
    version: str
    """Of the program that made it."""
    database: str
    """The kind: sqlite or postgresql."""
    migrations: list[str]
    """Applied in the copy, as "app.name"."""
    counts: dict[str, int]
    sha256: dict[str, str]
    """Of each other file in the state's folder, by its name."""
    absent: dict[str, str]
    """Files that the copy names and the shop could not give, by hash, with the reason."""

    def write(self, folder: Path) -> None:
        """By rename, once all that it names is on the disk."""
        for name in self.sha256:
            _sync_file(folder / name)
        begun = folder / f"{MANIFEST}.begun"
        begun.write_text(json.dumps(asdict(self), indent=1))
        _sync_file(begun)
        os.replace(begun, folder / MANIFEST)
        sync_folder(folder)
        sync_folder(folder.parent)

    @classmethod
    def read(cls, path: Path) -> Manifest:
        try:
            found: Any = json.loads(path.read_text())
        except (OSError, ValueError) as error:
            raise Damaged(_("%(path)s cannot be read. Take another backup.") % {"path": path}) from error
        if not isinstance(found, dict) or set(found) != {field.name for field in fields(cls)}:
            raise Damaged(_("%(path)s is no manifest of a backup, or one of another version.") % {"path": path})
        if found["format"] != FORMAT:
            raise NotPossible(_("This backup was made by a newer version of the program. Restore it with that one."))
        return cls(**found)


class State:
    """The shop as it was at one time."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.manifest = Manifest.read(folder / MANIFEST)

    def __str__(self) -> str:
        return self.folder.name

    @property
    def database(self) -> Path:
        return next(self.folder / name for name in self.manifest.sha256 if name.startswith("database."))

    @property
    def heads(self) -> str:
        return (self.folder / HEADS).read_text()

    def files(self) -> list[str]:
        """The hashes of the files that should lie in the backup; those known to be absent are left out."""
        return [line[:64] for line in (self.folder / FILES).read_text().splitlines()]

    def check(self) -> None:
        """The state's own files, byte for byte. Raises Damaged."""
        for name, sha256 in self.manifest.sha256.items():
            if not (self.folder / name).exists():
                raise Damaged(_("%(name)s of this backup is gone.") % {"name": self.folder / name})
            if hash_of(self.folder / name) != sha256:
                said = _("%(name)s of this backup is not as it was written: it was cut or changed.")
                raise Damaged(said % {"name": self.folder / name})


class BackupFolder:
    """A folder of states and of the files that they share."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._states = root / "states"

    def files(self) -> Folder:
        return Folder(self.root / "files")

    def states(self) -> list[State]:
        """The whole ones, oldest first."""
        return [State(path.parent) for path in sorted(self._states.glob(f"*/{MANIFEST}"))]

    def state(self, name: str = "") -> State:
        """The newest, or the one of this name."""
        found = [state for state in self.states() if name in ("", str(state))]
        if not found:
            said = _("%(folder)s holds no whole backup%(of)s. Name the folder that `manage.py backup` wrote to.")
            raise NotPossible(said % {"folder": self.root, "of": f" {name}" if name else ""})
        return found[-1]

    def flaws_of_files(self, state: State) -> Iterator[str]:
        """Read every file of a state and tell which are gone or have other bytes."""
        kept = self.files()
        for sha256 in state.files():
            try:
                with kept.open(sha256) as handle:
                    found = hashlib.file_digest(handle, "sha256").hexdigest()  # type: ignore[arg-type]
            except Missing:
                yield _("file %(file)s is gone from the backup") % {"file": sha256[:16]}
                continue
            if found != sha256:
                yield _("file %(file)s in the backup has other bytes than it should") % {"file": sha256[:16]}

    @contextmanager
    def held(self) -> Iterator[None]:
        """Alone in the folder, which is made where there is none; what a broken backup left is cleared away first.

        Raises NotPossible where another backup is being made.
        """
        # Its owner's alone: it holds the customers' models and the hashes of passwords.
        self.root.mkdir(mode=0o700, parents=True, exist_ok=True)
        with (self.root / "lock").open("ab") as handle:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError as error:
                raise NotPossible(_("Another backup is being made in %(folder)s.") % {"folder": self.root}) from error
            self._clear_halves()
            yield

    def begin_state(self, name: str) -> Path:
        folder = self._states / name
        folder.mkdir(mode=0o700, parents=True)
        return folder

    def _clear_halves(self) -> None:
        for folder in self._states.glob("*"):
            if not (folder / MANIFEST).exists():
                shutil.rmtree(folder)
        incoming = self.root / "files" / "incoming"
        for path in incoming.glob("*"):
            path.unlink()

    def keep_newest(self, count: int) -> int:
        """Remove older states, then the files that no state names any more; how many states went."""
        states = self.states()
        old = states[: max(0, len(states) - count)]
        for state in old:
            (state.folder / MANIFEST).unlink()  # first: what a crash leaves must not look whole
            shutil.rmtree(state.folder)
        wanted = {sha256 for state in states[len(old) :] for sha256 in state.files()}
        kept = self.files()
        for sha256 in set(kept.all()) - wanted:
            kept.remove(sha256)
        return len(old)


def hash_of(path: Path) -> str:
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def _sync_file(path: Path) -> None:
    with path.open("rb") as handle:
        os.fsync(handle.fileno())
