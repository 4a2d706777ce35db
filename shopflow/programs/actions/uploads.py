"""Bytes of a program come in: as a new program of a job, or as the next revision of one."""

from __future__ import annotations

import io
from collections.abc import Sequence

from django.conf import settings
from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.nc.text import open_source
from shopflow.jobs.actions.locked import open_job
from shopflow.jobs.models import Job, Setup
from shopflow.jobs.uploads import clean_name
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import calls
from shopflow.programs.actions import lapses, reviews
from shopflow.programs.actions.made_with import tidy
from shopflow.programs.models import Program, ProgramRevision
from shopflow.records import files, ledger
from shopflow.records.models import StoredFile

MEDIA_TYPE = "text/plain"


def upload(
    job: Job,
    data: bytes,
    *,
    by: User,
    name: str,
    setups: Sequence[Setup],
    file_name: str = "",
    note: str = "",
    program: Program | None = None,
    made_with: str = "",
    made_settings: str = "",
) -> ProgramRevision:
    """Keep the bytes as a new program of the job, or as the next revision of `program`, and ask for its review.

    Raises Unreadable for what is no program text and NotPossible for a refusal, each with a sentence for the person;
    nothing is kept then.
    """
    require(by, Act.UPLOAD_PROGRAM)
    open_source(data, max_bytes=settings.MAX_UPLOAD_BYTES)
    refuse_wrong_setups(job, setups)
    stored = files.store(io.BytesIO(data), media_type=MEDIA_TYPE)
    with transaction.atomic():
        job = open_job(job)
        now = _program(job, program, name=name.strip(), setups=setups)
        made = tidy(made_with)[:120], tidy(made_settings)[:120]
        said = made if any(made) else None
        return add_revision(now, stored, data, by=by, file_name=file_name or name, note=note, made=said)


def add_revision(
    program: Program,
    stored: StoredFile,
    data: bytes,
    *,
    by: User,
    file_name: str,
    note: str,
    came_by: str = ProgramRevision.CameBy.UPLOAD,
    repeats: ProgramRevision | None = None,
    sender: User | None = None,
    made: tuple[str, str] | None = None,
) -> ProgramRevision:
    """The next revision with these bytes, inside the caller's transaction; the job's row is held by the caller.

    made: generator and its settings, None for those of the revision before. sender: whose bytes they are, where that is
    not the person who acts (two persons sign: programs.queries.signing).
    """
    newest = program.revisions.select_related("stored").first()
    if newest and newest.stored_id == stored.pk:
        raise NotPossible(
            _("These are the bytes of revision %(number)d, the newest one: there is nothing new to review.")
            % {"number": newest.number}
        )
    number = (program.revisions.aggregate(last=Max("number"))["last"] or 0) + 1
    called = calls.find(data)
    before = newest or repeats
    made = made or ((before.made_with, before.made_settings) if before else ("", ""))
    revision = ProgramRevision.objects.create(
        program=program, number=number, stored=stored, name=clean_name(file_name), note=note.strip()[:300],
        called=list(called.numbers), calls_any=called.any, uploaded_by=sender or by,
        came_by=came_by, repeats=repeats, made_with=made[0], made_settings=made[1],
    )  # fmt: skip
    ledger.append(
        "program_uploaded", chain=program.job.chain, subject=("program", program.pk), by=by, revision=number,
        sha256=stored.sha256, setups=sorted(program.setups.values_list("number", flat=True)),
    )  # fmt: skip
    reviews.ask_review(revision, by=by)
    lapses.note_standing(program, by=by)
    return revision


def refuse_wrong_setups(job: Job, setups: Sequence[Setup]) -> None:
    if not setups:
        raise NotPossible(_("Choose the setup, or the setups, that this program runs."))
    if any(setup.job_id != job.pk for setup in setups):
        raise NotPossible(_("A program runs setups of its own job."))
    manual = [str(setup.number) for setup in setups if setup.is_manual]
    if manual:
        raise NotPossible(_("Setup %s is done by hand and runs no program.") % ", ".join(manual))
    machines = {setup.machine_id for setup in setups if setup.machine_id}
    if len(machines) > 1:
        raise NotPossible(
            _("These setups stand on different machines in the plan. Send a program for each, or mend the plan.")
        )


def _program(job: Job, program: Program | None, *, name: str, setups: Sequence[Setup]) -> Program:
    if program is None:
        if job.programs.filter(name__iexact=name).exists():
            raise NotPossible(
                _("This job has a program “%s” already. Send a new revision of it, or type another name.") % name
            )
        program = Program.objects.create(job=job, name=name)
    elif program.job_id != job.pk:
        raise NotPossible(_("This program belongs to another job."))
    program.setups.set(setups)
    return program
