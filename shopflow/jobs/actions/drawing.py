"""Line drawings of a model, with hidden lines removed: long work of its own, kept in the cache."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core import solid
from shopflow.core.errors import NotPossible
from shopflow.jobs import queries
from shopflow.jobs.models import Job, JobFile
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import cache, files, work
from shopflow.records.models import StoredFile, Work

DRAWING = "draw_views"
"""Kind of the long work that draws the standard views."""


def ask_drawing(job: Job) -> Work | None:
    """The drawing of the job's present model, from before or asked for now; None while there is nothing to draw."""
    model = queries.current_file(job, JobFile.Kind.MODEL)
    reading = queries.reading_of(job)
    if model is None or reading is None or reading.needs_choice:
        return None
    inputs = {"sha256": model.stored.sha256, "solid": job.solid_index}
    with transaction.atomic():
        row = work.ask(DRAWING, inputs, version=queries.DRAWING_VERSION, subject=("file", model.stored_id))
        if row.state == Work.State.DONE and not queries.has_drawings(job):
            work.redo(row)  # the cache was emptied
            row.refresh_from_db()
    return row


@transaction.atomic
def draw_again(job: Job, *, by: User) -> None:
    """Another round of tries for a drawing that failed."""
    require(by, Act.EDIT_JOB)
    row = ask_drawing(job)
    if row is None:
        raise NotPossible(_("There is nothing to draw yet: the model is not read."))
    work.retry(row, by=by)


def draw_views(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Draw the views that a piece of work names; the lines go to the cache, the result says which are exact."""
    stored = StoredFile.objects.get(sha256=row.data["sha256"])
    drawings = draw_standard(stored, row.data["solid"], _as_percent(progress))
    return {"views": {drawing.view.name: drawing.is_exact for drawing in drawings}}


def draw_standard(
    stored: StoredFile, solid_index: int | None, told: Callable[[str], None] | None = None
) -> tuple[solid.Drawing, ...]:
    """The standard views out of the cache, or drawn now and kept there. Raises CoreError where they cannot be."""
    key = queries.drawing_key(stored.sha256, solid_index)
    kept = queries.drawings_in(key)
    if kept:
        return kept
    views = [solid.off_axis(view) if view.is_square else view for view in solid.STANDARD]
    with files.path_of(stored) as path:
        drawings = solid.draw(path, views=views, solid_index=solid_index, progress=told)
    cache.write(key, json.dumps([drawing.to_json() for drawing in drawings]).encode())
    return drawings


def _as_percent(progress: work.Progress) -> Callable[[str], None]:
    """Reading is a small part of it; the views come last."""
    shares = {"opening": 0, "reading": 5, "transferring": 15, "drawing": 30}
    words = {
        "opening": _("opening the file"),
        "reading": _("its text"),
        "transferring": _("its surfaces"),
        "drawing": _("the views, hidden lines removed"),
    }

    def told(step: str) -> None:
        if step in shares:
            progress(shares[step], _("Drawing the part: %s") % words[step])

    return told
