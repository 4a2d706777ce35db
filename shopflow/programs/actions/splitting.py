"""Several main programs in one file become programs of their own, each with its setup."""

from __future__ import annotations

import io
from collections.abc import Mapping

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.locked import open_job
from shopflow.jobs.models import Job, Setup
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries
from shopflow.programs.actions.uploads import MEDIA_TYPE, add_revision, refuse_wrong_setups
from shopflow.programs.models import Program, ProgramRevision
from shopflow.records import files, ledger

APART = ProgramRevision.CameBy.APART


def split_off(revision: ProgramRevision, moved: Mapping[str, Setup], *, by: User) -> list[ProgramRevision]:
    """Make programs of their own of these numbers ("O1234") of the file, each for its setup; the others stay.

    Subprograms go along with each that calls them. What stays becomes the next revision of the program, without the
    setups that went. Raises NotPossible, and nothing is done then.
    """
    require(by, Act.UPLOAD_PROGRAM)
    staying = _staying(revision, moved)
    control, source = queries.Reviewed(revision).inputs.control, queries.source(revision)
    bytes_of = {number: nc.only(source, control, [number]) for number in moved}
    rest = nc.only(source, control, staying)
    stored = {data: files.store(io.BytesIO(data), media_type=MEDIA_TYPE) for data in (*bytes_of.values(), rest)}
    with transaction.atomic():
        job = open_job(revision.program.job)
        if queries.newest(revision.program) != revision:
            raise NotPossible(_("There is a newer revision of this program: split that one."))
        made = []
        note = _("split off from %(program)s revision %(number)d")
        said = note % {"program": revision.program.name, "number": revision.number}
        for number, setup in moved.items():
            program = new_program(job, revision, number, setup)
            data = bytes_of[number]
            made.append(
                add_revision(program, stored[data], data, by=by, file_name=revision.name, note=said, came_by=APART)
            )
        keep_setups(revision.program, set(moved.values()))
        without = _("without %s, which are programs of their own now") % ", ".join(moved)
        made.append(
            add_revision(
                revision.program, stored[rest], rest, by=by, file_name=revision.name, note=without, came_by=APART
            )
        )
        ledger.append(
            "program_split", chain=job.chain, subject=("program_revision", revision.pk), by=by,
            made=[row.pk for row in made], numbers=list(moved),
        )  # fmt: skip
        return made


def _staying(revision: ProgramRevision, moved: Mapping[str, Setup]) -> list[str]:
    """The main programs that stay in the file."""
    if not moved:
        raise NotPossible(_("Choose a setup for at least one of the programs."))
    refuse_wrong_setups(revision.program.job, list(moved.values()))
    if len(set(moved.values())) < len(moved):
        raise NotPossible(_("Two programs cannot have the same setup: leave one in the file, or choose another."))
    source, control = queries.source(revision), queries.Reviewed(revision).inputs.control
    mains = [one.number for one in nc.programs_in(source, control) if not one.is_called]
    gone = [number for number in moved if number not in mains]
    if gone:
        raise NotPossible(_("%s is no main program of this file. Load the page again.") % ", ".join(gone))
    staying = [number for number in mains if number not in moved]
    if not staying:
        raise NotPossible(_("Leave at least one program where it is: it keeps the revisions that were made so far."))
    return staying


def new_program(job: Job, revision: ProgramRevision, number: str, setup: Setup) -> Program:
    if job.programs.filter(name__iexact=number).exists():
        raise NotPossible(_("This job has a program “%s” already. Send this one in as its revision.") % number)
    program = Program.objects.create(job=job, name=number)
    program.setups.set([setup])
    return program


def keep_setups(program: Program, gone: set[Setup]) -> None:
    kept = [setup for setup in program.setups.all() if setup not in gone]
    if not kept:
        raise NotPossible(_("What stays needs a setup: every setup of this program would go."))
    program.setups.set(kept)
