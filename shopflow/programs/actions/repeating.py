"""Taking a program that an earlier job proved into a repeat order."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.locked import open_job
from shopflow.jobs.models import Job
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries
from shopflow.programs.actions.uploads import add_revision, refuse_wrong_setups
from shopflow.programs.models import Program, ProgramRevision
from shopflow.records import ledger


@transaction.atomic
def take_proven(job: Job, revision: ProgramRevision, *, by: User) -> ProgramRevision:
    """Make the bytes of a proven revision a program of this job, for the setups of the same numbers.

    It is reviewed again under this job's plan, and what was decided is carried where the same findings stand; the
    sign-off is not. Raises NotPossible where it is not offered (any more).
    """
    require(by, Act.UPLOAD_PROGRAM)
    job = open_job(job)
    offer = next((one for one in queries.offers(job) if one.revision.pk == revision.pk), None)
    if offer is None:
        raise NotPossible(_("This program is not offered any more. Load the page again."))
    refuse_wrong_setups(job, offer.setups)
    source = offer.revision
    program = Program.objects.create(job=job, name=_free_name(job, source.program.name))
    program.setups.set(offer.setups)
    note = _("proven in job %(job)s, lot %(lot)s, revision %(number)d") % {
        "job": offer.proven.job, "lot": offer.proven.lot, "number": source.number,
    }  # fmt: skip
    made = add_revision(
        program, source.stored, queries.content(source), by=by, file_name=source.name, note=note,
        came_by=ProgramRevision.CameBy.REPEAT, repeats=source,
    )  # fmt: skip
    ledger.append(
        "program_repeated", chain=job.chain, subject=("program_revision", made.pk), by=by, of=source.pk,
        job=offer.proven.job, lot=offer.proven.lot, sha256=source.stored.sha256,
    )  # fmt: skip
    return made


def _free_name(job: Job, name: str) -> str:
    taken = {known.lower() for known in job.programs.values_list("name", flat=True)}
    tries = (name, *(f"{name[:74]} ({number})" for number in range(2, 100)))
    return next(one for one in tries if one.lower() not in taken)
