"""A backup while people work: the database first, in one consistent state, then the files that this state names.

In that order nothing is missing: files are written before their rows, so each row in the copy has its bytes. Files that
come in between are simply not named. Only bytes withdrawn in between are gone, and the report says so.
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.utils.translation import gettext as _

from shopflow.records.backup_folder import FILES, FORMAT, HEADS, TIME_IN_NAMES, BackupFolder, Manifest, State, hash_of
from shopflow.records.database_copies import Facts, database
from shopflow.records.models import Withdrawal
from shopflow.records.places import PIECE, Folder, Missing, Place, place


@dataclass(frozen=True)
class Made:
    """What a backup did."""

    state: State
    new_files: int
    states_removed: int
    damaged: list[str]
    """Files that the shop itself no longer has as they were: somebody must look."""


def make(folder: BackupFolder, *, keep: int) -> Made:
    """Add a state to the folder, and only the files that it does not hold yet. keep: states kept, this one included."""
    with folder.held():
        now = datetime.now(UTC)
        at = folder.begin_state(now.strftime(TIME_IN_NAMES))
        kind = database()
        facts = kind.copy(at / kind.file_name)
        new, absent, damaged = _copy_files(facts.files, folder.files())
        listed = [sha256 for sha256 in facts.files if sha256 not in absent]
        (at / FILES).write_text("".join(f"{sha256} *../../files/{sha256[:2]}/{sha256}\n" for sha256 in listed))
        (at / HEADS).write_text("".join(f"{head}\n" for head in facts.heads))
        names = (kind.file_name, FILES, HEADS)
        Manifest(
            format=FORMAT,
            made_at=now.isoformat(timespec="seconds"),
            version=version(),
            database=kind.kind,
            migrations=facts.migrations,
            counts=_counts(facts),
            sha256={name: hash_of(at / name) for name in names},
            absent=absent,
        ).write(at)
        return Made(State(at), new, folder.keep_newest(keep), damaged)


def version() -> str:
    project = tomllib.loads((settings.BASE_DIR / "pyproject.toml").read_text())
    return str(project["project"]["version"])


def _counts(facts: Facts) -> dict[str, int]:
    return {
        "ledger_rows": facts.ledger_rows,
        "chains": len(facts.heads),
        "files": len(facts.files),
        "withdrawn": facts.withdrawn,
    }


def _copy_files(wanted: list[str], target: Folder) -> tuple[int, dict[str, str], list[str]]:
    """How many were new, which the shop could not give and why, and which of those nobody withdrew."""
    source, held = place(), set(target.all())
    absent: dict[str, str] = {}
    new, damaged = 0, []
    for sha256 in wanted:
        if sha256 in held:
            continue
        if put(sha256, source, target):
            new += 1
        elif Withdrawal.objects.filter(file__sha256=sha256).exists():
            absent[sha256] = _("withdrawn while the backup was made")
        else:
            absent[sha256] = _("gone or damaged in the shop")
            damaged.append(sha256)
    return new, absent, damaged


def put(sha256: str, source: Place, target: Place) -> bool:
    """Copy one file, hashed on the way; False, and nothing put, where its bytes are gone or not those of its name."""
    hashed = hashlib.sha256()
    try:
        with source.open(sha256) as handle, target.incoming() as incoming:
            while piece := handle.read(PIECE):
                hashed.update(piece)
                incoming.write(piece)
            if hashed.hexdigest() == sha256:
                incoming.keep_as(sha256)
    except Missing:
        return False
    return hashed.hexdigest() == sha256


def check(root: Path) -> tuple[State, list[str]]:
    """The newest state of a folder, its own files proved, and what is wrong with the stored files it names."""
    folder = BackupFolder(root)
    state = folder.state()
    state.check()
    return state, list(folder.flaws_of_files(state))
