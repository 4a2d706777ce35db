"""Where the bytes lie: a folder that all hosts of the shop share, or a storage service.

A place knows names (hashes) and bytes, no rows. Both kinds do the same things; records.files says in which order.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from datetime import datetime
from pathlib import Path
from typing import IO, Protocol

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.files import File
from django.core.files.storage import Storage, storages
from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError

PIECE = 1024 * 1024
"""Bytes read or written at once."""


class Missing(CoreError):
    """The bytes of a file are not where they were kept."""

    def __init__(self, sha256: str) -> None:
        gone = _("The bytes of file %(file)s are gone. Put them back from a backup of the files.")
        super().__init__(gone % {"file": sha256[:16]})


class Incoming(Protocol):
    """Bytes on their way in; forgotten unless kept."""

    def write(self, piece: bytes) -> None: ...

    def tell(self) -> int: ...

    def keep_as(self, sha256: str) -> None:
        """Give the bytes their name for good; when this returns they survive a loss of power."""


class Place(Protocol):
    def incoming(self) -> AbstractContextManager[Incoming]: ...

    def open(self, sha256: str) -> IO[bytes]:
        """Raises Missing."""

    def local_path(self, sha256: str) -> AbstractContextManager[Path]:
        """Raises Missing."""

    def all(self) -> Iterator[str]: ...

    def remove(self, sha256: str) -> None: ...

    def remove_if_older(self, sha256: str, before: datetime, *, unless: Callable[[str], bool]) -> bool:
        """Remove what was kept before a time and is not wanted; False where it stays."""

    def remove_broken(self, before: datetime) -> int:
        """Remove uploads that never ended and began before a time; how many."""


def place() -> Place:
    """The storage named "files" in STORAGES, else the folder FILES_DIR."""
    if "files" in settings.STORAGES:
        return Service(storages["files"])
    return Folder(Path(settings.FILES_DIR))


class Folder:
    """A folder of files, two digits of the hash a subfolder; it may be shared by several hosts (NFS 4)."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._incoming = root / "incoming"
        self._incoming.mkdir(parents=True, exist_ok=True)

    def path(self, sha256: str) -> Path:
        return self.root / sha256[:2] / sha256

    @contextmanager
    def incoming(self) -> Iterator[Incoming]:
        path = self._incoming / uuid.uuid4().hex
        with path.open("xb") as handle:
            try:
                yield _IncomingFile(handle, self)
            finally:
                path.unlink(missing_ok=True)

    def open(self, sha256: str) -> IO[bytes]:
        try:
            return self.path(sha256).open("rb")
        except FileNotFoundError as error:
            raise Missing(sha256) from error

    @contextmanager
    def local_path(self, sha256: str) -> Iterator[Path]:
        if not self.path(sha256).exists():
            raise Missing(sha256)
        yield self.path(sha256)

    def all(self) -> Iterator[str]:
        return (path.name for path in self.root.glob("[0-9a-f][0-9a-f]/*"))

    def remove(self, sha256: str) -> None:
        self.path(sha256).unlink(missing_ok=True)

    def remove_if_older(self, sha256: str, before: datetime, *, unless: Callable[[str], bool]) -> bool:
        with self.lock(fcntl.LOCK_EX):
            if not _is_older(self.path(sha256), before) or unless(sha256):
                return False
            self.remove(sha256)
        return True

    def remove_broken(self, before: datetime) -> int:
        old = [path for path in self._incoming.glob("*") if _is_older(path, before)]
        for path in old:
            path.unlink(missing_ok=True)
        return len(old)

    @contextmanager
    def lock(self, how: int) -> Iterator[None]:
        """Shared while a file gets its name and its age, exclusive while the sweep looks at an age and removes."""
        with (self.root / "lock").open("ab") as handle:
            fcntl.flock(handle, how)
            yield


class _IncomingFile:
    def __init__(self, handle: IO[bytes], folder: Folder) -> None:
        self._handle = handle
        self._folder = folder

    def write(self, piece: bytes) -> None:
        self._handle.write(piece)

    def tell(self) -> int:
        return self._handle.tell()

    def keep_as(self, sha256: str) -> None:
        """Over an older copy of the same bytes too: that mends a damaged one, and its age begins anew."""
        target = self._folder.path(sha256)
        target.parent.mkdir(exist_ok=True)
        self._handle.flush()
        os.fchmod(self._handle.fileno(), 0o444)
        os.fsync(self._handle.fileno())
        with self._folder.lock(fcntl.LOCK_SH):
            os.replace(self._handle.name, target)
        sync_folder(target.parent)
        sync_folder(self._folder.root)


def _is_older(path: Path, before: datetime) -> bool:
    try:
        return path.stat().st_mtime < before.timestamp()
    except FileNotFoundError:
        return False


def sync_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


class Service:
    """A storage of Django's kind (S3 and the like): a finished write is durable and replaces what had its name."""

    def __init__(self, storage: Storage) -> None:
        self._storage = storage

    @contextmanager
    def incoming(self) -> Iterator[Incoming]:
        with tempfile.TemporaryFile() as handle:
            yield _IncomingUpload(handle, self._storage)

    def open(self, sha256: str) -> IO[bytes]:
        if not self._storage.exists(_name(sha256)):
            raise Missing(sha256)
        handle: IO[bytes] = self._storage.open(_name(sha256), "rb")
        return handle

    @contextmanager
    def local_path(self, sha256: str) -> Iterator[Path]:
        with self.open(sha256) as source, tempfile.NamedTemporaryFile() as copy:
            shutil.copyfileobj(source, copy, PIECE)
            copy.flush()
            yield Path(copy.name)

    def all(self) -> Iterator[str]:
        for folder in self._storage.listdir("")[0]:
            yield from self._storage.listdir(folder)[1]

    def remove(self, sha256: str) -> None:
        self._storage.delete(_name(sha256))

    def remove_if_older(self, sha256: str, before: datetime, *, unless: Callable[[str], bool]) -> bool:
        """Asked again just before, since services of this kind have no lock: a rest of milliseconds remains."""
        if self._storage.get_modified_time(_name(sha256)) >= before or unless(sha256):
            return False
        self.remove(sha256)
        return True

    def remove_broken(self, before: datetime) -> int:
        """None: an upload that never ended has no name there."""
        return 0


class _IncomingUpload:
    def __init__(self, handle: IO[bytes], storage: Storage) -> None:
        self._handle = handle
        self._storage = storage

    def write(self, piece: bytes) -> None:
        self._handle.write(piece)

    def tell(self) -> int:
        return self._handle.tell()

    def keep_as(self, sha256: str) -> None:
        self._handle.seek(0)
        name = self._storage.save(_name(sha256), File(self._handle))
        if name != _name(sha256):
            self._storage.delete(name)
            raise ImproperlyConfigured("the storage of files must replace a file of the same name, not rename")


def _name(sha256: str) -> str:
    return f"{sha256[:2]}/{sha256}"
