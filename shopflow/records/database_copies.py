"""One consistent copy of the database while people work, and putting it back; a way of its own for each kind."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from django.contrib.auth import get_user_model
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core.errors import NotPossible
from shopflow.records.models import ChainHead, LedgerRow, StoredFile, Withdrawal
from shopflow.records.places import sync_folder
from shopflow.records.proof import Head

BESIDE = "/usr/lib/postgresql/{version}/bin"
"""Where Debian and Ubuntu put the tools of each version of the server."""

NO_SHOP = gettext_lazy("There is no shop in the database %(place)s. Name the shop's in SHOPFLOW_DATA or DATABASE_URL.")

Ask = Callable[[str], list[Any]]
"""Runs a SELECT and gives all rows."""


class Facts(NamedTuple):
    """What a copy holds, read from the copy itself or from the very snapshot that it was made of."""

    files: list[str]
    """Hashes, without those withdrawn."""
    withdrawn: int
    heads: list[Head]
    ledger_rows: int
    migrations: list[str]


class Database(Protocol):
    kind: str
    file_name: str

    def copy(self, target: Path) -> Facts: ...

    def refuse_if_used(self) -> None:
        """Raises NotPossible where something would be overwritten."""

    def put_back(self, source: Path) -> None: ...


def database() -> Database:
    """The shop's."""
    return PostgreSQL() if connection.vendor == "postgresql" else SQLite()


def _facts(ask: Ask) -> Facts:
    file, withdrawal = StoredFile._meta.db_table, Withdrawal._meta.db_table
    head, row = ChainHead._meta.db_table, LedgerRow._meta.db_table
    return Facts(
        [
            sha256
            for (sha256,) in ask(
                f"SELECT f.sha256 FROM {file} f WHERE NOT EXISTS "
                f"(SELECT 1 FROM {withdrawal} w WHERE w.file_id = f.id) ORDER BY f.id"
            )
        ],
        ask(f"SELECT count(*) FROM {withdrawal}")[0][0],
        [Head(*found) for found in ask(f"SELECT chain, seq, hash FROM {head} WHERE seq > 0 ORDER BY chain")],
        ask(f"SELECT count(*) FROM {row}")[0][0],
        [f"{app}.{name}" for app, name in ask("SELECT app, name FROM django_migrations ORDER BY id")],
    )


def _refuse_without_shop(tables: set[str], place: str) -> None:
    if LedgerRow._meta.db_table not in tables:
        raise NotPossible(NO_SHOP % {"place": place})


def _refuse_if_somebody_worked() -> None:
    """A person, a row of the ledger or a file: any of them makes it a shop."""
    tables = set(connection.introspection.table_names())
    for model in (get_user_model(), LedgerRow, StoredFile):
        if model._meta.db_table in tables and model._default_manager.exists():
            raise NotPossible(
                _(
                    "The database already holds a shop, and a restore would overwrite it. "
                    "Name an empty place in SHOPFLOW_DATA or DATABASE_URL, or move the old one away."
                )
            )


class SQLite:
    kind, file_name = "sqlite", "database.sqlite3"

    def __init__(self, path: Path | None = None) -> None:
        self._path = (path or Path(connection.settings_dict["NAME"])).resolve()

    def copy(self, target: Path) -> Facts:
        """With SQLite's online backup: all pages in one step, so one state; with a write-ahead log writers go on.

        Source: sqlite.org, "Online Backup API" and "Write-Ahead Logging".
        """
        if not self._path.exists():
            raise NotPossible(NO_SHOP % {"place": self._path})
        try:
            return self._copy(target)
        except sqlite3.DatabaseError as error:  # damage, a full disk
            said = _("The database cannot be copied: %(why)s.")
            raise NotPossible(said % {"why": error}) from error

    def _copy(self, target: Path) -> Facts:
        source_uri = f"{self._path.as_uri()}?mode=rw"
        with closing(sqlite3.connect(source_uri, uri=True)) as source, closing(sqlite3.connect(target)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")  # one file, and nothing beside it
            flaws = copy.execute("PRAGMA quick_check(3)").fetchall()
            if flaws != [("ok",)]:
                said = _("The database is damaged, as SQLite's own check of the copy says: %(flaws)s")
                raise NotPossible(said % {"flaws": "; ".join(row[0] for row in flaws)})
            tables = {name for (name,) in copy.execute("SELECT name FROM sqlite_master")}
            _refuse_without_shop(tables, str(self._path))
            return _facts(lambda sql: copy.execute(sql).fetchall())

    def refuse_if_used(self) -> None:
        self._path.parent.mkdir(parents=True, exist_ok=True)
        _refuse_if_somebody_worked()

    def put_back(self, source: Path) -> None:
        connections.close_all()
        incoming = self._path.with_name(f"{self._path.name}.restoring")
        shutil.copyfile(source, incoming)
        with incoming.open("rb") as handle:
            os.fsync(handle.fileno())
        for ending in ("-wal", "-shm"):  # of the empty shop before it; SQLite would play it into the restored one
            self._path.with_name(self._path.name + ending).unlink(missing_ok=True)
        os.replace(incoming, self._path)
        sync_folder(self._path.parent)


class PostgreSQL:
    kind, file_name = "postgresql", "database.dump"

    def copy(self, target: Path) -> Facts:
        """With pg_dump, of a snapshot in which the facts are read as well."""
        _refuse_without_shop(set(connection.introspection.table_names()), connection.settings_dict["NAME"])
        with closing(connections.create_connection(DEFAULT_DB_ALIAS)) as own, own.cursor() as cursor:
            cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
            cursor.execute("SELECT pg_export_snapshot()")
            snapshot = cursor.fetchone()[0]
            _run("pg_dump", "--format=custom", f"--snapshot={snapshot}", f"--file={target}", *_UNOWNED)

            def ask(sql: str) -> list[Any]:
                cursor.execute(sql)
                return list(cursor.fetchall())

            facts = _facts(ask)
            cursor.execute("COMMIT")
            return facts

    def refuse_if_used(self) -> None:
        _refuse_if_somebody_worked()
        if connection.introspection.table_names():
            raise NotPossible(_("The PostgreSQL database has tables. Make a new one and name it in DATABASE_URL."))

    def put_back(self, source: Path) -> None:
        _run("pg_restore", "--single-transaction", "--exit-on-error", *_UNOWNED, str(source))
        connections.close_all()


_UNOWNED = ("--no-owner", "--no-privileges")
"""Whoever restores owns what is restored: the role of then may not exist there."""


def _run(tool: str, *arguments: str) -> None:
    """A client tool of PostgreSQL on the shop's database; the password goes by the environment, unseen by others."""
    words, environment = _how_to_connect(connection)
    command = [_client_tool(tool), *words, *arguments]
    done = subprocess.run(
        command, env=os.environ | environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise NotPossible(_("%(tool)s says: %(what)s") % {"tool": tool, "what": done.stderr.strip()})


def _how_to_connect(using: BaseDatabaseWrapper) -> tuple[list[str], dict[str, str]]:
    given = using.settings_dict
    words, environment = using.client.settings_to_cmd_args_env(given, [])
    return [*words[1:-1], f"--dbname={given['NAME']}"], environment or {}


def _client_tool(tool: str) -> str:
    """That of the server's own version where it is installed here (a pg_dump refuses newer servers), else from PATH."""
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version_num")
        beside = Path(BESIDE.format(version=int(cursor.fetchone()[0]) // 10000), tool)
    found = str(beside) if beside.exists() else shutil.which(tool)
    if found is None:
        said = _("%(tool)s is not installed here. Install the client tools of PostgreSQL (apt: postgresql-client).")
        raise NotPossible(said % {"tool": tool})
    return found
