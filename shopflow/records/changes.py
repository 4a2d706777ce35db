"""The change counter: how a screen learns, with one indexed read, that something happened since it last asked.

Every append stamps its chain's head with a number (`ChainHead.changed`). A screen keeps the number it was last told and
asks for chains stamped later. The trap is that numbers given out in one order may be committed in another, so that a
screen that was told 12 never hears of an 11 committed after it. Both databases avoid it without one lock for all:

* SQLite lets one transaction write at a time, so largest + 1 is also the order of commits.
* PostgreSQL stamps with the number of the transaction itself and tells, in the same snapshot, below which number every
  transaction is over (`pg_snapshot_xmin`). A screen is never told a number above that mark, so whatever commits later
  is stamped higher. While a transaction is open, chains changed after it began may be named twice; none is left out.

Appends wait only for others to the same chain. Keep transactions that write short all the same.
"""

from __future__ import annotations

from django.db import connection
from django.db.models.expressions import RawSQL

from shopflow.records.models import ChainHead

HEADS = ChainHead._meta.db_table
SQLITE_STAMP = f"(SELECT coalesce(max(changed), 0) + 1 FROM {HEADS})"
SQLITE_COUNTER = f"SELECT coalesce(max(changed), 0) FROM {HEADS}"
POSTGRESQL_STAMP = "pg_current_xact_id()::text::bigint"
POSTGRESQL_COUNTER = f"""
    SELECT least(coalesce((SELECT max(changed) FROM {HEADS}), 0),
                 pg_snapshot_xmin(pg_current_snapshot())::text::bigint - 1)"""
POSTGRESQL_FUTURE = f"""
    SELECT coalesce((SELECT max(changed) FROM {HEADS}), 0) >= pg_snapshot_xmax(pg_current_snapshot())::text::bigint"""


def stamp() -> RawSQL:
    """The number of this transaction, as an expression for the head's update."""
    return RawSQL(POSTGRESQL_STAMP if _is_postgresql() else SQLITE_STAMP, [])


def counter() -> int:
    """The number to remember: every change stamped at or below it can be seen by now. Read it before the chains."""
    with connection.cursor() as cursor:
        cursor.execute(POSTGRESQL_COUNTER if _is_postgresql() else SQLITE_COUNTER)
        return int(cursor.fetchone()[0])


def changed_chains_since(n: int) -> set[str]:
    """The chains stamped after n; all of them where n comes from another life of the database (a restored backup)."""
    known = n if n <= counter() else -1
    return set(ChainHead.objects.filter(changed__gt=known).values_list("chain", flat=True))


def are_from_another_life() -> bool:
    """Whether some stamp has not been reached yet: the heads came along with a dump of another database."""
    if not _is_postgresql():
        return False
    with connection.cursor() as cursor:
        cursor.execute(POSTGRESQL_FUTURE)
        return bool(cursor.fetchone()[0])


def _is_postgresql() -> bool:
    return connection.vendor == "postgresql"
