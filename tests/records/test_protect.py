"""Append-only tables: everything that could change or lose a row is refused by the database itself."""

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, migrations, models, transaction
from django.db.migrations.state import ProjectState

from shopflow.records import files, ledger, protect
from shopflow.records.checks import tables_are_append_only
from shopflow.records.models import LedgerRow, StoredFile

both = pytest.mark.both_databases
TABLE = LedgerRow._meta.db_table
COLUMNS = ", ".join(f'"{field.column}"' for field in LedgerRow._meta.concrete_fields)


@pytest.fixture
def row(lead):
    with transaction.atomic():
        return ledger.append("opened", chain="job:1", subject=("job", 1), by=lead)


def refused(sql: str, *values: object) -> None:
    with pytest.raises(IntegrityError, match="only ever added"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, values)


@both
def test_update_is_refused(row):
    refused(f"UPDATE {TABLE} SET kind = 'closed' WHERE id = %s", row.pk)


@both
def test_delete_is_refused(row):
    refused(f"DELETE FROM {TABLE} WHERE id = %s", row.pk)


@both
def test_delete_of_every_row_is_refused(row):
    refused(f"DELETE FROM {TABLE}")


@both
def test_an_upsert_is_refused(row):
    refused(
        f"INSERT INTO {TABLE} ({COLUMNS}) SELECT {COLUMNS} FROM {TABLE} WHERE id = %s"
        " ON CONFLICT (id) DO UPDATE SET kind = 'closed'",
        row.pk,
    )


def test_replace_by_primary_key_is_refused(row):
    refused(f"REPLACE INTO {TABLE} ({COLUMNS}) SELECT {COLUMNS} FROM {TABLE} WHERE id = %s", row.pk)


def test_replace_by_another_unique_key_is_refused(row):
    others = COLUMNS.replace('"id", ', "")
    refused(f"INSERT OR REPLACE INTO {TABLE} ({others}) SELECT {others} FROM {TABLE} WHERE id = %s", row.pk)


def test_update_or_replace_is_refused(row):
    refused(f"UPDATE OR REPLACE {TABLE} SET seq = 1 WHERE id = %s", row.pk)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("sql", [f"TRUNCATE {TABLE} CASCADE", f"TRUNCATE {TABLE} RESTART IDENTITY CASCADE"])
def test_truncate_is_refused(row, sql):
    refused(sql)


@pytest.mark.postgres
def test_merge_is_refused(row):
    refused(f"MERGE INTO {TABLE} t USING {TABLE} s ON t.id = s.id WHEN MATCHED THEN UPDATE SET kind = 'closed'")


@pytest.mark.postgres
def test_a_session_as_a_replica_is_refused_too(row):
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL session_replication_role = replica")
        refused(f"DELETE FROM {TABLE}")


@both
def test_a_refused_change_leaves_the_row_as_it_was(row):
    refused(f"UPDATE {TABLE} SET kind = 'closed'")
    assert LedgerRow.objects.get().kind == "opened"


@both
def test_saving_a_changed_object_is_refused(row):
    row.kind = "closed"
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


@both
def test_the_row_of_a_file_cannot_be_deleted(lead):
    stored = files.store(b"solid", media_type="model/step")
    refused(f"DELETE FROM {StoredFile._meta.db_table} WHERE id = %s", stored.pk)


@both
@pytest.mark.django_db
def test_every_marked_table_is_protected_after_migrating():
    assert {LedgerRow, StoredFile} <= set(protect.APPEND_ONLY)
    assert protect.check() == []


@both
@pytest.mark.django_db(transaction=True)
def test_a_table_rebuilt_by_a_migration_is_protected_again_by_migrate(row):
    longer = models.CharField(max_length=61)
    _migrate(migrations.AlterField("ledgerrow", "kind", longer))
    try:
        call_command("migrate", "records", verbosity=0)
        refused(f"UPDATE {TABLE} SET kind = 'closed'")
        refused(f"DELETE FROM {TABLE}")
    finally:
        _migrate(migrations.AlterField("ledgerrow", "kind", models.CharField(max_length=60)))
        call_command("migrate", "records", verbosity=0)


@pytest.mark.django_db(transaction=True)
def test_a_table_that_sqlite_rebuilt_is_named_by_the_system_check(row):
    with connection.schema_editor() as editor:
        editor._remake_table(LedgerRow)
    assert protect.check() == [TABLE]
    assert [TABLE in message.msg for message in tables_are_append_only(["default"])] == [True]
    protect.restore()
    assert tables_are_append_only(["default"]) == []


@both
@pytest.mark.django_db(transaction=True)
def test_a_dropped_trigger_keeps_a_server_from_starting():
    protect._triggers(connection).drop(connection, TABLE)
    with pytest.raises(protect.Unprotected, match=TABLE):
        protect.require()
    protect.restore()
    protect.require()


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    "sql",
    [
        f"ALTER TABLE {TABLE} DISABLE TRIGGER append_only",
        f"ALTER TABLE {TABLE} ENABLE TRIGGER append_only",
        "CREATE OR REPLACE FUNCTION append_only() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'",
        f"DROP TRIGGER append_only ON {TABLE};"
        f"CREATE TRIGGER append_only BEFORE UPDATE ON {TABLE} EXECUTE FUNCTION append_only()",
    ],
    ids=["disabled", "not for replicas", "a function that does nothing", "fewer events"],
)
def test_a_weakened_trigger_is_found_and_mended(row, sql):
    with connection.cursor() as cursor:
        cursor.execute(sql)
    assert TABLE in protect.check()
    protect.restore()
    assert protect.check() == []
    refused(f"DELETE FROM {TABLE}")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("event", ["UPDATE", "DELETE"])
def test_a_weakened_sqlite_trigger_is_found_and_mended(row, event):
    name = f"append_only_{TABLE}_{event.lower()}"
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {name}")
        cursor.execute(f"CREATE TRIGGER {name} BEFORE {event} ON {TABLE} WHEN 0 BEGIN SELECT 1; END")
    assert protect.check() == [TABLE]
    protect.restore()
    refused(f"UPDATE {TABLE} SET kind = 'closed'")
    refused(f"DELETE FROM {TABLE}")


@pytest.mark.django_db(transaction=True)
def test_a_connection_on_which_replace_slips_through_is_found(row):
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA recursive_triggers = OFF")
    assert TABLE in protect.check()
    protect.restore()
    assert protect.check() == []


@both
@pytest.mark.django_db(transaction=True)
def test_protection_comes_back_even_when_the_emptying_fails():
    with pytest.raises(ZeroDivisionError), protect.lifted():
        raise ZeroDivisionError
    assert protect.check() == []


def _migrate(operation: migrations.operations.base.Operation) -> None:
    """Apply one operation as a migration of records would."""
    from django.apps import apps

    before = ProjectState.from_apps(apps)
    after = before.clone()
    operation.state_forwards("records", after)
    with connection.schema_editor() as editor:
        operation.database_forwards("records", editor, before, after)
