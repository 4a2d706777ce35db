"""Append-only triggers on SQLite.

REPLACE deletes the row in its way without telling anyone unless recursive_triggers is on, so that setting counts as a
part of the protection: the connection sets it (settings), and `stand` asks for it.
"""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

EVENTS = ("UPDATE", "DELETE")


def stand(connection: BaseDatabaseWrapper, table: str) -> bool:
    """Whether both triggers are there, word for word, and REPLACE will meet them."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA recursive_triggers")
        recursive = bool(cursor.fetchone()[0])
        cursor.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s", [table])
        found = {row[0] for row in cursor.fetchall()}
    return recursive and found >= {_definition(table, event) for event in EVENTS}


def create(connection: BaseDatabaseWrapper, table: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA recursive_triggers = ON")
        for event in EVENTS:
            cursor.execute(_definition(table, event))


def drop(connection: BaseDatabaseWrapper, table: str) -> None:
    with connection.cursor() as cursor:
        for event in EVENTS:
            cursor.execute(f'DROP TRIGGER IF EXISTS "{_name(table, event)}"')


def _name(table: str, event: str) -> str:
    return f"append_only_{table}_{event.lower()}"


def _definition(table: str, event: str) -> str:
    return (
        f'CREATE TRIGGER "{_name(table, event)}" BEFORE {event} ON "{table}" '
        f"BEGIN SELECT RAISE(ABORT, 'rows of {table} are only ever added: {event} refused'); END"
    )
