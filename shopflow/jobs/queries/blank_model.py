"""The solid model that a setup's blank is: a casting, a near-net blank, somebody else's first op."""

from __future__ import annotations

from django.utils.translation import gettext as _

from shopflow.core.solid import Reading
from shopflow.core.types import Box
from shopflow.jobs.models import Job, JobFile, Setup
from shopflow.jobs.queries.model import mesh_key_of, reading_in, work_of_model
from shopflow.records.models import Work


def blank_file_of(job: Job) -> JobFile | None:
    """The model of what the job's first setup begins with; None where its blanks are sawn from stock."""
    first = job.setups.select_related("blank_file__stored").first()
    return first.blank_file if first else None


def blank_to_plan(job: Job) -> JobFile | None:
    """The model of the blank that a plan begins with: the first setup's own; while nobody chose there, the newest one
    that was sent and is one solid."""
    first = job.setups.select_related("blank_file__stored").first()
    if first is not None and (first.blank_file or "blank_file" in first.fixed):
        return first.blank_file
    sent = job.files.select_related("stored").filter(kind=JobFile.Kind.BLANK)
    return next((model for model in sent if not why_not_a_blank(model)), None)


def cast_reading(job: Job) -> Reading | None:
    """What that model says; None where the blanks are sawn, or while it is not read."""
    model = blank_to_plan(job)
    reading = reading_in(work_of_model(model)) if model else None
    return reading if reading is not None and len(reading.solids) == 1 else None


def blank_work(setup: Setup) -> Work | None:
    """The reading of the blank's model as long work; None where the blank is no model."""
    return work_of_model(setup.blank_file) if setup.blank_file else None


def blank_reading(setup: Setup) -> Reading | None:
    """What the blank's model says, once it is read; None where the blank is no model, or its file no blank."""
    reading = reading_in(blank_work(setup))
    return reading if reading is not None and len(reading.solids) == 1 else None


def blank_model_box(setup: Setup) -> Box | None:
    """Its box in the coordinates of the part's model, in which it is taken to lie."""
    reading = blank_reading(setup)
    return (reading.box_min_mm, reading.box_max_mm) if reading else None


def blank_mesh_key(setup: Setup) -> str:
    """The name in the cache of the blank's mesh; "" where the blank is no model or nobody asked for its reading."""
    row = blank_work(setup)
    return mesh_key_of(row) if row else ""


def why_no_blank_model(setup: Setup) -> str:
    """In words, why the model of the blank cannot be used; "" where it can, and where the blank is no model."""
    return why_not_a_blank(setup.blank_file) if setup.blank_file else ""


def why_not_a_blank(model: JobFile) -> str:
    """In words, why a file sent as the model of a blank is none yet."""
    row = work_of_model(model)
    if row is None or row.unfinished:
        return _("The model of the blank, %s, is being read.") % model.name
    if row.state == Work.State.FAILED:
        said = {"name": model.name, "why": row.error}
        return _("The model of the blank, %(name)s, could not be read: %(why)s") % said
    reading = reading_in(row)
    if reading is None or len(reading.solids) != 1:
        return _("The model of the blank, %s, is not one solid. Send the blank alone as one solid.") % model.name
    if model.stored.withdrawal_or_none:
        return _("The model of the blank, %s, was withdrawn. Send another, or type the blank's sizes.") % model.name
    return ""
