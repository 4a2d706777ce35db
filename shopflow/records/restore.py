"""Bring a shop back from a backup: all of it checked first, then the files, then the database: no row lacks bytes."""

from __future__ import annotations

from dataclasses import dataclass

from django.core.management import call_command
from django.db.migrations.loader import MigrationLoader
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.records import ledger, protect
from shopflow.records.backup import put
from shopflow.records.backup_folder import BackupFolder, Damaged, State
from shopflow.records.database_copies import Database, database
from shopflow.records.places import place

NAMED = 5
"""Flaws told in a refusal; more are counted."""


@dataclass(frozen=True)
class Restored:
    """What a restore did."""

    files: int
    lost: list[str]
    """What is wrong with files that could not be put back; only where damage was allowed."""


def restore(folder: BackupFolder, state: State, *, despite_damage: bool = False) -> Restored:
    """Put files and database into an empty place and bring the database to this version.

    Raises NotPossible where the place is in use or the backup is of another kind, and Damaged where the backup is not
    as it was written. despite_damage: files that are gone or changed are left out and told, instead of refused.
    """
    kind = database()
    _refuse_other_kinds(kind, state)
    kind.refuse_if_used()
    lost = prove(folder, state, despite_damage=despite_damage)
    source, target = folder.files(), place()
    count = sum(put(sha256, source, target) for sha256 in state.files())
    kind.put_back(state.database)
    # Both come with migrate as well, where it has something to do or not; said here, since the restore depends on them.
    call_command("migrate", interactive=False, verbosity=0)
    protect.restore()
    ledger.mend_after_restore()
    return Restored(count, lost)


def prove(folder: BackupFolder, state: State, *, despite_damage: bool = False) -> list[str]:
    """Read the whole backup; what is wrong with its files, where damage is allowed. Else raises Damaged."""
    _refuse_newer(state)
    state.check()
    lost = list(folder.flaws_of_files(state))
    if lost and not despite_damage:
        raise Damaged(_several(lost))
    return lost


def _refuse_other_kinds(kind: Database, state: State) -> None:
    if kind.kind != state.manifest.database:
        said = _("The backup is of %(theirs)s and DATABASE_URL names %(ours)s. Name an empty database of that kind.")
        raise NotPossible(said % {"theirs": state.manifest.database, "ours": kind.kind})


def _refuse_newer(state: State) -> None:
    ours = {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
    unknown = [name for name in state.manifest.migrations if name not in ours]
    if unknown:
        said = _("The backup was made by another version of the program, %(version)s; unknown to this one: %(what)s.")
        raise NotPossible(said % {"version": state.manifest.version, "what": _several(unknown)})


def _several(things: list[str]) -> str:
    more = len(things) - NAMED
    return "; ".join(things[:NAMED]) + (_("; and %(count)s more") % {"count": more} if more > 0 else "")
