"""Tables to which rows are only ever added, kept so by triggers in the database itself.

An app marks a model with `@append_only`. From then on the database refuses UPDATE, DELETE, REPLACE and, on PostgreSQL,
TRUNCATE on its table, whoever asks: this code, a shell, a wrong migration. A migration that rebuilds a table drops its
triggers, so they are put back after every `migrate` (post_migrate), and a system check names the ones that are missing.
Whoever owns the database can still drop a trigger: that is what the chains of records.ledger are there to show.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import TypeVar

from django.db import DEFAULT_DB_ALIAS, connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

from shopflow.records import triggers_postgresql, triggers_sqlite

APPEND_ONLY: list[type[models.Model]] = []

ModelType = TypeVar("ModelType", bound=type[models.Model])


class Unprotected(Exception):
    """An append-only table has lost its triggers; the text says which, and what to do."""


def append_only(model: ModelType) -> ModelType:
    """Class decorator: rows of this model are only ever added."""
    APPEND_ONLY.append(model)
    return model


def check(using: str = DEFAULT_DB_ALIAS) -> list[str]:
    """The append-only tables that exist and lack a trigger as it should be; empty when all is well."""
    connection = connections[using]
    return [table for table in _tables(connection) if not _triggers(connection).stand(connection, table)]


def require(using: str = DEFAULT_DB_ALIAS) -> None:
    """Raise Unprotected when a table has lost its triggers: for the start of a server or worker."""
    missing = check(using)
    if missing:
        raise Unprotected(f"these tables can be rewritten: {', '.join(missing)}; run `manage.py migrate` to mend it")


def restore(using: str = DEFAULT_DB_ALIAS) -> None:
    """Put back every trigger that is missing or is not as it should be."""
    connection = connections[using]
    for table in check(using):
        _triggers(connection).drop(connection, table)
        _triggers(connection).create(connection, table)


@contextmanager
def lifted(using: str = DEFAULT_DB_ALIAS) -> Iterator[None]:
    """Without protection for a moment: for emptying a test database, and for nothing else."""
    connection = connections[using]
    for table in _tables(connection):
        _triggers(connection).drop(connection, table)
    try:
        yield
    finally:
        restore(using)


def _tables(connection: BaseDatabaseWrapper) -> list[str]:
    with connection.cursor() as cursor:
        existing = set(connection.introspection.table_names(cursor))
    return [model._meta.db_table for model in APPEND_ONLY if model._meta.db_table in existing]


def _triggers(connection: BaseDatabaseWrapper) -> ModuleType:
    return triggers_postgresql if connection.vendor == "postgresql" else triggers_sqlite
