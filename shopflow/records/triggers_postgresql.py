"""Append-only triggers on PostgreSQL: one statement trigger a table, which also meets TRUNCATE and upserts.

ENABLE ALWAYS keeps it at work in a session that sets session_replication_role to replica.
"""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

NAME = "append_only"
BODY = """
BEGIN
    RAISE EXCEPTION 'rows of % are only ever added: % refused', TG_TABLE_NAME, TG_OP
        USING ERRCODE = 'integrity_constraint_violation';
END
"""
WITHOUT_ROW = 0b0000010 | 0b0001000 | 0b0010000 | 0b0100000
"""pg_trigger.tgtype of BEFORE DELETE OR UPDATE OR TRUNCATE for each statement (source: PostgreSQL's pg_trigger.h)."""


def stand(connection: BaseDatabaseWrapper, table: str) -> bool:
    """Whether the trigger is there, always enabled, for all three events, and runs the function as written here."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT count(*) FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid
               WHERE t.tgrelid = to_regclass(%s) AND t.tgname = %s AND t.tgenabled = 'A' AND t.tgtype = %s
                 AND t.tgqual IS NULL AND p.proname = %s AND p.prosrc = %s""",
            [f'"{table}"', NAME, WITHOUT_ROW, NAME, BODY],
        )
        return bool(cursor.fetchone()[0])


def create(connection: BaseDatabaseWrapper, table: str) -> None:
    _settle(connection)
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE OR REPLACE FUNCTION {NAME}() RETURNS trigger LANGUAGE plpgsql AS $body${BODY}$body$")
        cursor.execute(
            f'CREATE TRIGGER {NAME} BEFORE UPDATE OR DELETE OR TRUNCATE ON "{table}" '
            f"FOR EACH STATEMENT EXECUTE FUNCTION {NAME}()"
        )
        cursor.execute(f'ALTER TABLE "{table}" ENABLE ALWAYS TRIGGER {NAME}')


def drop(connection: BaseDatabaseWrapper, table: str) -> None:
    _settle(connection)
    with connection.cursor() as cursor:
        cursor.execute(f'DROP TRIGGER IF EXISTS {NAME} ON "{table}"')


def _settle(connection: BaseDatabaseWrapper) -> None:
    """Do now the checks of foreign keys that wait for the commit: PostgreSQL alters no table that has such."""
    connection.check_constraints()
