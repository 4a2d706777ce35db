"""Taking edits: the marked ones together make one new revision, each proved to change nothing else."""

from __future__ import annotations

import io
from collections.abc import Collection
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.core.errors import NotPossible
from shopflow.core.nc import Program
from shopflow.jobs.actions.locked import open_job
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import editing, queries, reviewing
from shopflow.programs.actions.uploads import MEDIA_TYPE, add_revision
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries import Reviewed
from shopflow.records import files, ledger


def take_edits(
    revision: ProgramRevision, ids: Collection[str], *, by: User, stop_after: int = 0, stop_message: str = ""
) -> ProgramRevision:
    """Carry the edits out that the review proposed under these ids, and put a stop behind a line where one is named.

    Raises NotPossible where an edit is not proposed any more or would change anything else; no revision is made then.
    """
    require(by, Act.UPLOAD_PROGRAM)
    seen = Reviewed(queries.fresh(revision))
    rows = _chosen(seen, ids)
    if stop_after:
        rows.append({"kind": "stop", "line": stop_after, "value": _said(stop_message)})
    if not rows:
        raise NotPossible(_("Mark the edits that you take first."))
    data, sayings = _carried_out(seen, rows)
    stored = files.store(io.BytesIO(data), media_type=MEDIA_TYPE)
    with transaction.atomic():
        job = open_job(revision.program.job)
        if queries.newest(revision.program) != revision:
            raise NotPossible(_("There is a newer revision of this program: take edits there."))
        note = ngettext("%(count)d edit taken", "%(count)d edits taken", len(rows)) % {"count": len(rows)}
        made = add_revision(
            revision.program, stored, data, by=by, file_name=revision.name, note=f"{note}: {' '.join(sayings)}"
        )
        ledger.append(
            "edits_taken", chain=job.chain, subject=("program_revision", made.pk), by=by, edited=revision.pk,
            edits=[[row["kind"], row["line"]] for row in rows],
        )  # fmt: skip
        return made


def _chosen(seen: Reviewed, ids: Collection[str]) -> list[dict[str, Any]]:
    proposed = {row["id"]: row for row in seen.result.get("edits", ())}
    if set(ids) - set(proposed):
        raise NotPossible(_("One of these edits is not proposed any more. Load the page again."))
    return [proposed[name] for name in dict.fromkeys(ids)]


def _said(message: str) -> str:
    if not message.strip():
        raise NotPossible(_("Say what the person is to do at the stop: it is written into the program."))
    return message.strip()[:120]


def _carried_out(seen: Reviewed, rows: list[dict[str, Any]]) -> tuple[bytes, list[str]]:
    """From the last line to the first, so that lines put in move nothing that is still to be edited."""
    data = queries.content(seen.revision)
    sayings: list[str] = []
    for row in sorted(rows, key=lambda row: (-row["line"], row["kind"])):
        program: Program = reviewing.read(seen.inputs, data)
        edited = editing.apply(program, row)
        data = edited.data
        sayings.insert(0, edited.saying)
    return data, sayings
