"""Files kept under the SHA-256 of their bytes; what is kept never changes.

The order is what makes it safe: bytes to a temporary name, hashed on the way, synced, renamed, the folder synced, and
only then the row. A crash leaves bytes without a row, never a row without bytes; the sweep takes such orphans after a
day. Who may read a file is decided by the row that refers to it, never by its hash.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from contextlib import AbstractContextManager
from datetime import timedelta
from pathlib import Path
from typing import IO, TYPE_CHECKING, NamedTuple

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopflow.core.errors import CoreError, LimitReached
from shopflow.records import ledger
from shopflow.records.models import StoredFile, Withdrawal
from shopflow.records.places import PIECE, Missing, Place, place

if TYPE_CHECKING:
    from django.contrib.auth.models import AbstractBaseUser

ORPHAN_AFTER = timedelta(days=1)


class TooLarge(LimitReached):
    """More bytes than this shop takes."""


class Withdrawn(CoreError):
    """The bytes were taken away by a person; the row and the hash stay."""


class FileFlaw(NamedTuple):
    """One file that is not as its row says, or was withdrawn (which is no flaw)."""

    sha256: str
    what: str
    is_withdrawn: bool

    def __str__(self) -> str:
        return f"file {self.sha256[:16]}: {self.what}"


def store(source: bytes | IO[bytes], *, media_type: str, limit: int | None = None) -> StoredFile:
    """Keep bytes and give their row; the same bytes a second time give the same row.

    limit: most bytes taken, MAX_UPLOAD_BYTES unless given. Raises TooLarge, and Withdrawn for bytes once withdrawn.
    """
    stream = io.BytesIO(source) if isinstance(source, bytes) else source
    if stream.seekable():
        stream.seek(0)
    with place().incoming() as incoming:
        hashed = hashlib.sha256()
        for piece in _pieces(stream, settings.MAX_UPLOAD_BYTES if limit is None else limit):
            hashed.update(piece)
            incoming.write(piece)
        sha256 = hashed.hexdigest()
        _refuse_withdrawn(sha256)
        size = incoming.tell()
        incoming.keep_as(sha256)
    return StoredFile.objects.get_or_create(sha256=sha256, defaults={"size": size, "media_type": media_type})[0]


def _pieces(stream: IO[bytes], limit: int) -> Iterator[bytes]:
    taken = 0
    while piece := stream.read(PIECE):
        taken += len(piece)
        if taken > limit:
            too_large = _("The file is larger than %(most)s MB, the most taken here. Send a smaller one.")
            raise TooLarge(too_large % {"most": f"{limit / 1e6:.4g}"})
        yield piece


def _refuse_withdrawn(sha256: str) -> None:
    if Withdrawal.objects.filter(file__sha256=sha256).exists():
        raise Withdrawn(_("This file was withdrawn from the shop before and cannot be stored again. Ask a lead why."))


def open_file(stored: StoredFile) -> IO[bytes]:
    """The bytes, to be read once and closed. Raises Withdrawn or Missing."""
    _refuse_read_of_withdrawn(stored)
    return place().open(stored.sha256)


def content(stored: StoredFile) -> bytes:
    """All of the bytes, for what needs them whole. Raises Withdrawn or Missing."""
    with open_file(stored) as handle:
        return handle.read()


def content_of(sha256: str) -> bytes:
    """The same by hash, as long work names what it reads. StoredFile.DoesNotExist for one that was never kept."""
    return content(StoredFile.objects.get(sha256=sha256))


def path_of(stored: StoredFile) -> AbstractContextManager[Path]:
    """A path to the bytes on this machine for the time of the block, for programs that want a name. Read only."""
    _refuse_read_of_withdrawn(stored)
    return place().local_path(stored.sha256)


def _refuse_read_of_withdrawn(stored: StoredFile) -> None:
    withdrawal = stored.withdrawal_or_none
    if withdrawal:
        said = {"day": f"{withdrawal.at:%Y-%m-%d}", "reason": withdrawal.reason}
        raise Withdrawn(_("This file was withdrawn on %(day)s: %(reason)s") % said)


@transaction.atomic
def withdraw(stored: StoredFile, *, by: AbstractBaseUser, reason: str) -> Withdrawal:
    """Take the bytes away for good; whether this person may is for the caller to ask. No reason: ValueError."""
    if not reason.strip():
        raise ValueError("say why the bytes are withdrawn")
    ledger.append("file_withdrawn", chain=ledger.SHOP, subject=("file", stored.pk), by=by, sha256=stored.sha256)
    withdrawal = Withdrawal.objects.create(file=stored, by_id=by.pk, reason=reason.strip())
    transaction.on_commit(lambda: place().remove(stored.sha256))
    return withdrawal


def sweep_orphans() -> int:
    """Remove bytes without a row, and what a broken upload left, once they are a day old; how many went.

    Also removes withdrawn bytes that a crash kept from going.
    """
    kept = place()
    before = timezone.now() - ORPHAN_AFTER
    gone = kept.remove_broken(before)
    for sha256 in list(kept.all()):
        if not _is_wanted(sha256) and kept.remove_if_older(sha256, before, unless=_is_wanted):
            gone += 1
    return gone


def _is_wanted(sha256: str) -> bool:
    return StoredFile.objects.filter(sha256=sha256, withdrawal__isnull=True).exists()


def verify() -> Iterator[FileFlaw]:
    """Read every file again and tell which are missing, of another size or of other bytes; withdrawn ones are named."""
    kept = place()
    for stored in StoredFile.objects.select_related("withdrawal").iterator():
        flaw = _flaw(stored, kept)
        if flaw:
            yield flaw


def _flaw(stored: StoredFile, kept: Place) -> FileFlaw | None:
    if hasattr(stored, "withdrawal"):
        return FileFlaw(stored.sha256, "withdrawn", is_withdrawn=True)
    try:
        with kept.open(stored.sha256) as handle:
            found = hashlib.file_digest(handle, "sha256").hexdigest()  # type: ignore[arg-type]
            size = handle.tell()
    except Missing:
        return FileFlaw(stored.sha256, "its bytes are gone", is_withdrawn=False)
    if (found, size) != (stored.sha256, stored.size):
        return FileFlaw(stored.sha256, f"its bytes are others ({size} of them)", is_withdrawn=False)
    return None
