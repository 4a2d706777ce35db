"""Asking for a trial of edits, and making it: at once for a small program, in a worker for a long one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries, trials, typed
from shopflow.programs.editing import Edit
from shopflow.programs.queries import Reviewed
from shopflow.records import files, work
from shopflow.records.models import Work


def ask_trial(seen: Reviewed, edits: Sequence[Edit], *, together: bool, by: User, anew: bool = False) -> Work:
    """The trial of these edits under today's values: the one there is, or a new one, already done where that is quick.

    together: what they change as a whole; otherwise of one edit, by itself. anew: one that was given up is tried again.
    """
    require(by, Act.UPLOAD_PROGRAM)
    asked = queries.trial_of(seen, edits, together=together)
    at_once = seen.revision.stored.size <= trials.AT_ONCE_BYTES
    inputs, subject = {"asked": typed.plain(asked)}, ("program_revision", seen.revision.pk)
    row = work.ask(trials.TRIAL, inputs, version=trials.VERSION, subject=subject, send=not at_once)
    if anew and row.given_up:
        work.retry(row, by=by)
        row.refresh_from_db()
    return (work.run(row.pk, try_edits) or row) if at_once and row.unfinished else row


def try_edits(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Try the edits that a piece of work names; writes no rows."""
    asked = typed.load(trials.Asked, row.data["asked"])
    return trials.tried(asked, files.content_of(asked.content), row.key, progress)
