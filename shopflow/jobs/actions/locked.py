"""What every write on a job begins with: the row locked, its state checked."""

from __future__ import annotations

from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.models import Job, Stage


def locked(job: Job) -> Job:
    """The job's row as it is now, held until the transaction ends."""
    return Job.objects.select_for_update().get(pk=job.pk)


def open_job(job: Job) -> Job:
    """The locked row; refuses where the job is closed."""
    now = locked(job)
    if not now.is_open:
        raise NotPossible(_("Job %s is closed. Take a new order in as a job of its own.") % now.number)
    return now


def job_off_the_floor(job: Job) -> Job:
    """The locked row; refuses where pieces are being made already."""
    now = open_job(job)
    if now.stage == Stage.FLOOR:
        raise NotPossible(
            _("Job %s is on the floor already: what is being made there cannot be changed here.") % now.number
        )
    return now
