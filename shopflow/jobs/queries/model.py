"""What the model of a job says."""

from __future__ import annotations

from django.utils.translation import gettext as _

from shopflow.core.solid import Mesh, Reading
from shopflow.jobs.models import Job, JobFile
from shopflow.records import cache
from shopflow.records.models import Work

READING = "read_model"
"""Kind of the long work that reads a model."""
MM3_PER_M3 = 1e9


def reading_work(job: Job) -> Work | None:
    """The reading of the job's present model as long work: waiting, running, done or failed."""
    return job.reading


def reading_of(job: Job) -> Reading | None:
    """What the model says, once it is read."""
    return reading_in(job.reading)


def reading_in(row: Work | None) -> Reading | None:
    """What a finished piece of reading found."""
    if row is None or row.state != Work.State.DONE or row.result is None:
        return None
    return Reading.from_json(row.result)


def work_of_model(model: JobFile) -> Work | None:
    """The reading of any model of a job, the present one or one it superseded; None where it was never read.

    Of several, the one of the solid that somebody chose.
    """
    own = model.job.reading
    if own is not None and own.subject_id == model.stored_id:
        return own
    rows = list(Work.objects.filter(kind=READING, subject_kind="file", subject_id=model.stored_id).order_by("-pk"))
    return next((row for row in rows if row.data["solid"] is not None), rows[0] if rows else None)


def why_not_read(job: Job) -> str:
    """In words, why there is no reading yet; empty where there is one."""
    row = job.reading
    if row is None:
        has_model = job.files.filter(kind=JobFile.Kind.MODEL).exists()
        return _("The model was not read yet.") if has_model else _("No model was uploaded.")
    if row.state == Work.State.FAILED:
        return row.error
    return _("The model is being read.") if row.unfinished else ""


def why_not_planned(job: Job) -> str:
    """In words, why no plan can be proposed from the model; empty where one can."""
    reading = reading_of(job)
    if reading is None:
        return _("No plan can be proposed yet. %s") % why_not_read(job)
    return _("The file holds several solids: say in the intake which one is the part.") if reading.needs_choice else ""


def mesh_in(row: Work | None) -> bytes | None:
    """The mesh of a reading as the viewer's bytes; None where there is none, or where the cache was emptied."""
    return cache.read(mesh_key_of(row)) if row else None


def keep_mesh(row: Work, mesh: Mesh | None) -> None:
    """Put the mesh of a reading into the cache."""
    if mesh is not None:
        cache.write(mesh_key_of(row), mesh.to_bytes())


def part_mass_kg(job: Job, reading: Reading) -> float | None:
    """Mass of the part from its volume and the job's material; None while the material is not known."""
    if job.material is None:
        return None
    return reading.volume_mm3 / MM3_PER_M3 * float(job.material.density)


def mesh_key(job: Job) -> str:
    """The name in the cache of the job's mesh; "" where no model was uploaded."""
    return mesh_key_of(job.reading) if job.reading else ""


def mesh_key_of(row: Work) -> str:
    """The name in the cache of the mesh of a reading."""
    return cache.key("mesh", work=row.key)
