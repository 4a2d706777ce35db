"""Taking edits: the marked ones together make one new revision, each proved to change nothing else."""

from __future__ import annotations

import io
from collections.abc import Collection, Sequence

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.locked import open_job
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries
from shopflow.programs.actions.uploads import MEDIA_TYPE, add_revision
from shopflow.programs.editing import Edit
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries import Reviewed
from shopflow.records import files, ledger


def take_edits(
    revision: ProgramRevision, ids: Collection[str], *, by: User, own: Sequence[Edit] = ()
) -> ProgramRevision:
    """Carry the edits out that the review proposed under these ids, with those that a person made, into one revision.

    Raises NotPossible where an edit is not proposed any more, contradicts another or would change anything else; no
    revision is made then.
    """
    require(by, Act.UPLOAD_PROGRAM)
    seen = Reviewed(queries.fresh(revision))
    chosen = queries.marked_edits(seen, ids, own)
    data, sayings = queries.with_edits(seen, chosen)
    stored = files.store(io.BytesIO(data), media_type=MEDIA_TYPE)
    with transaction.atomic():
        job = open_job(revision.program.job)
        if queries.newest(revision.program) != revision:
            raise NotPossible(_("There is a newer revision of this program: take edits there."))
        note = ngettext("%(count)d edit taken", "%(count)d edits taken", len(chosen)) % {"count": len(chosen)}
        made = add_revision(
            revision.program,
            stored,
            data,
            by=by,
            file_name=revision.name,
            note=f"{note}: {' '.join(sayings)}",
            came_by=ProgramRevision.CameBy.EDITS,
        )
        ledger.append(
            "edits_taken", chain=job.chain, subject=("program_revision", made.pk), by=by, edited=revision.pk,
            edits=[[edit.kind, edit.line, edit.tool] for edit in chosen],
        )  # fmt: skip
        return made
