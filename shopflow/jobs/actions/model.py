"""What the model says: read by a worker, then confirmed by a person where it leaves a doubt."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopflow.core import solid
from shopflow.core.errors import NotPossible
from shopflow.core.solid.request import STEPS
from shopflow.jobs import queries
from shopflow.jobs.actions.drawing import draw_ahead
from shopflow.jobs.actions.files import read_present_model
from shopflow.jobs.actions.locked import job_off_the_floor
from shopflow.jobs.models import Job, JobFile
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import files, ledger, work
from shopflow.records.models import StoredFile, Work
from shopflow.shop import changes

_WORDS = {
    "opening": gettext_lazy("opening the file"),
    "reading": gettext_lazy("its text"),
    "transferring": gettext_lazy("its surfaces"),
    "measuring": gettext_lazy("box, volume and area"),
    "recognising": gettext_lazy("holes, pockets and edges"),
    "drawing": gettext_lazy("the views"),
    "meshing": gettext_lazy("the picture"),
    "annotations": gettext_lazy("dimensions and tolerances"),
    "writing": gettext_lazy("writing it down"),
}
"""What a person sees for each step of core.solid.request.STEPS."""


def read_model(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Read the model that a piece of work names: the result is the reading; its mesh goes to the cache."""
    stored = StoredFile.objects.get(sha256=row.data["sha256"])
    with files.path_of(stored) as path:
        reading = solid.read(path, solid_index=row.data["solid"], progress=_as_percent(progress))
    queries.keep_mesh(row, reading.mesh)
    return reading.to_json()


def note_reading(row: Work, result: dict[str, Any]) -> None:
    """What follows from a finished reading: its views are drawn, and what waited for the model of a blank goes on."""
    draw_ahead(row, result)
    blanks = JobFile.objects.filter(kind=JobFile.Kind.BLANK, stored__sha256=row.data["sha256"])
    for blank in blanks.select_related("uploaded_by"):
        changes.announce(by=blank.uploaded_by, jobs=[blank.job_id])


def _as_percent(progress: work.Progress) -> Callable[[str], None]:
    """The reader names its step; people see how far along the list of steps that is."""
    return lambda step: progress(100 * STEPS.index(step) / len(STEPS), _("Reading the model: %s") % _WORDS[step])


@transaction.atomic
def confirm_unit(job: Job, *, by: User) -> Job:
    """Note that a person compared the size with the print: the file's unit is the right one."""
    require(by, Act.EDIT_JOB)
    now = job_off_the_floor(job)
    reading = queries.reading_of(now)
    if reading is None:
        raise NotPossible(_("The model is not read yet."))
    if not now.unit_confirmed:
        now.unit_confirmed = True
        now.save(update_fields=["unit_confirmed"])
        ledger.append("unit_confirmed", chain=now.chain, subject=("job", now.pk), by=by, unit=reading.unit)
    return now


@transaction.atomic
def choose_solid(job: Job, *, by: User, index: int) -> Job:
    """Say which solid of the file is the part; the model is read again for that one."""
    require(by, Act.EDIT_JOB)
    now = job_off_the_floor(job)
    reading = queries.reading_of(now)
    if reading is None or index not in {part.index for part in reading.solids}:
        raise NotPossible(_("There is no such solid in this model. Pick one from the list."))
    if now.solid_index != index:
        now.solid_index = index
        now.save(update_fields=["solid_index"])
        ledger.append("solid_chosen", chain=now.chain, subject=("job", now.pk), by=by, index=index)
        read_present_model(now)
        changes.announce(by=by, jobs=[now.pk])
    return now
