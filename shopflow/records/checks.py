"""What must be right before the first request; `manage.py check --database default` runs it, and so does `migrate`."""

from __future__ import annotations

from collections.abc import Sequence

from django.core.checks import CheckMessage, Tags, Warning, register

from shopflow.records import protect


@register(Tags.database)
def tables_are_append_only(databases: Sequence[str] | None, **_: object) -> list[CheckMessage]:
    """A warning and no error: `migrate` runs this check first, and is what mends it."""
    return [
        Warning(
            f"The table {table} can be rewritten: its append-only trigger is missing or changed.",
            hint="Run `manage.py migrate`, which puts it back, then `manage.py verify_records`, to see what changed.",
            id="records.W001",
        )
        for alias in databases or []
        for table in protect.check(alias)
    ]
