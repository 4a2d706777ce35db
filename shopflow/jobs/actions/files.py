"""Files of a job: the model, the drawing, whatever else came with the order."""

from __future__ import annotations

from typing import IO, cast

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs import queries, uploads
from shopflow.jobs.actions.locked import job_off_the_floor, open_job
from shopflow.jobs.models import Job, JobFile, Stage
from shopflow.jobs.queries.model import READING
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.records import files, ledger, work
from shopflow.records.models import Work
from shopflow.shop import changes

READING_VERSION = "7"
"""Raise it when a reading of the same bytes would come out otherwise."""


@transaction.atomic
def add_file(job: Job, upload: UploadedFile[bytes], *, by: User, kind: str) -> JobFile:
    """Keep a file with the job; a model is read at once. A newer file of its kind supersedes the older one.

    Raises Unreadable or LimitReached with a sentence for the person; the job is then as it was.
    """
    require(by, Act.EDIT_JOB)
    checked = uploads.check(upload, kind)
    now = job_off_the_floor(job) if kind in (JobFile.Kind.MODEL, JobFile.Kind.BLANK) else open_job(job)
    stored = files.store(cast("IO[bytes]", upload.file), media_type=checked.media_type)
    added = JobFile.objects.create(job=now, kind=kind, stored=stored, name=checked.name, uploaded_by=by)
    ledger.append(
        "file_added", chain=now.chain, subject=("job", now.pk), by=by, file=added.pk, of=kind, sha256=stored.sha256
    )
    if kind in (JobFile.Kind.MODEL, JobFile.Kind.DRAWING) and now.revisions_settled:
        now.revisions_settled = ""
        now.save(update_fields=["revisions_settled"])
    if kind == JobFile.Kind.MODEL:
        _take_as_model(now, added, by=by)
    if kind == JobFile.Kind.BLANK:
        _ask(added, None, 0)
    return added


@transaction.atomic
def ask_reading(job: Job, *, by: User) -> Work:
    """Read the job's present model once more: after a failure, or where the picture is gone from the cache."""
    require(by, Act.EDIT_JOB)
    now = open_job(job)
    row = now.reading
    if row is not None and row.state == Work.State.FAILED:
        work.retry(row, by=by)
        return row
    return read_present_model(now, again=row.data["again"] + 1 if row else 0)


def read_present_model(job: Job, *, again: int = 0) -> Work:
    """Ask for the reading of the newest model and the solid chosen in it; the row of the job is held by the caller.

    again: another number gives another reading of the same bytes.
    """
    model = job.files.filter(kind=JobFile.Kind.MODEL).select_related("stored").first()
    if model is None:
        raise NotPossible(_("This job has no model to read. Upload one first."))
    asked = _ask(model, job.solid_index, again)
    job.reading = asked
    job.save(update_fields=["reading"])
    return asked


def reading_of_model(model: JobFile) -> Work:
    """The reading of any model of a job, as this version reads: from before, or asked for now."""
    row = queries.work_of_model(model)
    if row is not None and (row.version == READING_VERSION or row.unfinished):
        return row
    with transaction.atomic():
        return _ask(model, row.data["solid"] if row else None, 0)


def _ask(model: JobFile, solid: int | None, again: int) -> Work:
    inputs = {"sha256": model.stored.sha256, "solid": solid, "again": again}
    return work.ask(READING, inputs, version=READING_VERSION, subject=("file", model.stored_id))


def remake_picture(row: Work | None) -> None:
    """Read a model once more where the cache no longer holds its picture; nothing about a job changes by it."""
    if row is not None and row.state == Work.State.DONE:
        with transaction.atomic():
            work.redo(row)


def read_outdated() -> int:
    """Read again, as this version of the program reads, the models of jobs that are not on the floor yet; how many."""
    waiting = Job.objects.exclude(stage__in=(Stage.FLOOR, Stage.CLOSED)).filter(reading__isnull=False)
    count = 0
    for found in waiting.exclude(reading__version=READING_VERSION):
        with transaction.atomic():
            read_present_model(job_off_the_floor(found))
        count += 1
    return count


def _take_as_model(job: Job, model: JobFile, *, by: User) -> None:
    """A new model is a new question: what was confirmed or chosen about the old one does not carry over."""
    job.solid_index, job.unit_confirmed, job.no_model_reason = None, False, ""
    job.save(update_fields=["solid_index", "unit_confirmed", "no_model_reason"])
    read_present_model(job)
    changes.announce(by=by, jobs=[job.pk])
