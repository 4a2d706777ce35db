"""Programs of a job, their revisions and their reviews."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import Http404
from django.utils.translation import gettext as _

from shopflow.core.nc.text import Source, open_source
from shopflow.jobs.models import Job, Setup
from shopflow.people.access import Act, may
from shopflow.people.models import User
from shopflow.programs.models import Program, ProgramRevision
from shopflow.records import files


def revision_for(user: User, pk: int) -> ProgramRevision:
    """The revision, for a person who may see the shop's work; 404 to others."""
    revision = _revisions(user).filter(pk=pk).first()
    if revision is None:
        raise Http404(_("There is no such program."))
    return revision


def fresh(revision: ProgramRevision) -> ProgramRevision:
    """The revision with its job as the rows say now, for an action that decides by them."""
    return ProgramRevision.objects.select_related("stored", "program__job__material").get(pk=revision.pk)


def _revisions(user: User) -> QuerySet[ProgramRevision]:
    if not may(user, Act.SEE):
        return ProgramRevision.objects.none()
    return ProgramRevision.objects.select_related(
        "stored", "uploaded_by", "program__job__revision__part__customer", "program__job__material"
    )


def program_for(user: User, pk: int) -> Program:
    """The program, for a person who may see the shop's work; 404 to others."""
    rows = Program.objects.select_related("job__revision__part__customer")
    program = rows.filter(pk=pk).first() if may(user, Act.SEE) else None
    if program is None:
        raise Http404(_("There is no such program."))
    return program


def newest(program: Program) -> ProgramRevision | None:
    return program.revisions.select_related("stored", "program__job").first()


def signed_revisions(program: Program) -> frozenset[int]:
    """The revisions that were ever signed off, whether that still holds or not."""
    return frozenset(program.revisions.filter(sign_offs__isnull=False).values_list("pk", flat=True))


def base_of(revision: ProgramRevision) -> ProgramRevision | None:
    """What a person wants to compare with: the last revision signed off before this one, else the one before."""
    earlier = revision.program.revisions.filter(number__lt=revision.number).select_related("stored")
    return earlier.filter(sign_offs__isnull=False).first() or earlier.first()


def programs_of(job: Job) -> list[Program]:
    """The job's programs in the order of the setups that they run."""
    programs = list(job.programs.prefetch_related("setups"))
    return sorted(programs, key=lambda program: (_first_setup(program), program.name))


def _first_setup(program: Program) -> int:
    return min((setup.number for setup in program.setups.all()), default=10_000)


def setups_without_program(job: Job) -> list[Setup]:
    """Setups of the plan that need a program and have none."""
    return list(job.setups.filter(manual_reason="", programs=None))


def content(revision: ProgramRevision) -> bytes:
    """The exact bytes. Raises Withdrawn or Missing, which are sentences for the person."""
    return files.content(revision.stored)


def source(revision: ProgramRevision) -> Source:
    """The bytes and where their lines lie."""
    return open_source(content(revision), max_bytes=revision.stored.size + 1)
