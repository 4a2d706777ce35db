"""Asking for a comparison of two revisions, and making it in a worker."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from shopflow.programs import comparing, queries, typed
from shopflow.programs.models import ProgramRevision
from shopflow.records import files, work
from shopflow.records.models import Work

COMPARE = "compare_programs"


@transaction.atomic
def ask_comparison(before: ProgramRevision, after: ProgramRevision) -> Work:
    """The comparison of two revisions as the machine of the plan reads and runs them: the one there is, or a new."""
    as_today = queries.read_as(before, after)
    inputs = {"before": before.stored.sha256, "after": after.stored.sha256, "read_as": typed.plain(as_today)}
    return work.ask(COMPARE, inputs, version=comparing.VERSION, subject=("program_revision", after.pk))


def compare_programs(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Compare the two programs that a piece of work names; writes no rows."""
    as_asked = typed.load(comparing.ReadAs, row.data["read_as"])
    return comparing.compare(_bytes(row.data["before"]), _bytes(row.data["after"]), as_asked, progress)


def _bytes(sha256: str) -> bytes:
    return files.content_of(sha256)
