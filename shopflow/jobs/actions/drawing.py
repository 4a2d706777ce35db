"""Line drawings of a model, with hidden lines removed: long work of its own, kept in the cache."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
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
HURRIED = solid.Limits(view_s=4.0, views_s=8.0)
"""What a paper waits for exact lines. Seven views of the hardest file at hand take 6 s of processor time."""


def ask_drawing(job: Job) -> Work | None:
    """The drawing of the job's present model, from before or asked for now; None while there is nothing to draw."""
    model = queries.current_file(job, JobFile.Kind.MODEL)
    reading = queries.reading_of(job)
    if model is None or reading is None or reading.needs_choice:
        return None
    with transaction.atomic():
        row = _ask(model.stored, job.solid_index)
        if row.state == Work.State.DONE and not queries.has_drawings(job):
            work.redo(row)  # the cache was emptied
            row.refresh_from_db()
    return row


def draw_ahead(row: Work, result: dict[str, Any]) -> None:
    """Once a model is read: have it drawn before anybody looks at it, unless a solid of it is to be chosen first."""
    if len(result["solids"]) == 1 or row.data["solid"] is not None:
        _ask(StoredFile.objects.get(sha256=row.data["sha256"]), row.data["solid"])


def _ask(stored: StoredFile, solid_index: int | None) -> Work:
    inputs = {"sha256": stored.sha256, "solid": solid_index}
    return work.ask(DRAWING, inputs, version=queries.DRAWING_VERSION, subject=("file", stored.pk))


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
    drawings = lines_of(stored, row.data["solid"], queries.STANDARD, told=_as_percent(progress))
    return {"views": {drawing.view.name: drawing.is_exact for drawing in drawings}}


def lines_of(
    stored: StoredFile,
    solid_index: int | None,
    views: Sequence[solid.View],
    *,
    told: Callable[[str], None] | None = None,
    is_hurried: bool = False,
) -> tuple[solid.Drawing, ...]:
    """Views of a model out of the cache; what is not there is drawn now and kept. Raises CoreError where it cannot be.

    is_hurried: for a paper that somebody waits for; lines of the mesh come sooner in place of exact ones, and are not
    kept, since the exact ones follow.
    """
    found = queries.drawn(stored.sha256, solid_index, views)
    missing = [view for view, drawing in zip(views, found, strict=True) if drawing is None]
    if not missing:
        return tuple(drawing for drawing in found if drawing)
    limits = HURRIED if is_hurried else solid.Limits()
    with files.path_of(stored) as path:
        made = iter(solid.draw(path, views=missing, solid_index=solid_index, progress=told, limits=limits))
    drawings = tuple(drawing or next(made) for drawing in found)
    for view, drawing in zip(views, drawings, strict=True):
        if view in missing and (drawing.is_exact or not is_hurried):
            cache.write(queries.view_key(stored.sha256, solid_index, view), json.dumps(drawing.to_json()).encode())
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
