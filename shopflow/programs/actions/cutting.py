"""Where a person ends the parts of a program, and parts that become programs of their own, each for its setup."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby

from django.db import transaction
from django.utils.translation import gettext as _

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.jobs.actions.locked import open_job
from shopflow.jobs.models import Job, Setup
from shopflow.people.access import Act, require
from shopflow.people.models import User
from shopflow.programs import queries, reviewing
from shopflow.programs.actions.splitting import keep_setups, new_program
from shopflow.programs.actions.uploads import MEDIA_TYPE, add_revision, refuse_wrong_setups
from shopflow.programs.models import PartCuts, ProgramRevision
from shopflow.records import files, ledger
from shopflow.records.models import StoredFile

APART = ProgramRevision.CameBy.APART

Group = tuple[Setup | None, int]
"""Parts that follow one another and go to one setup (None: they stay), and the last line of the last of them."""


def keep_cuts(revision: ProgramRevision, lines: Iterable[int], *, by: User) -> PartCuts:
    """End parts of this revision behind these lines as well, until other lines are named; none take earlier ones back.

    Raises NotPossible for a line behind which nothing can end.
    """
    require(by, Act.UPLOAD_PROGRAM)
    wanted = sorted(set(lines))
    seen = queries.Reviewed(revision)
    count = len(queries.source(revision))
    wrong = next((line for line in wanted if not 1 <= line < count), None)
    if wrong is not None:
        raise NotPossible(
            _("Line %(line)d has no line behind it: the file has %(count)d.") % {"line": wrong, "count": count}
        )
    parts = queries.read_parts(seen, wanted) if wanted else []
    with transaction.atomic():
        job = open_job(revision.program.job)
        kept = PartCuts.objects.create(
            revision=revision, lines=wanted, parts=parts, inputs_hash=seen.inputs.hash, cut_by=by
        )
        ledger.append(
            "parts_cut", chain=job.chain, subject=("program_revision", revision.pk), by=by, lines=wanted,
        )  # fmt: skip
        return kept


def make_programs_of_parts(revision: ProgramRevision, moved: Mapping[int, Setup], *, by: User) -> list[ProgramRevision]:
    """Make the parts that end with these lines programs of their own, each for its setup; what stays is a new revision.

    Parts that follow one another and go to one setup become one program. Each is read by itself and proved to move as
    the whole does there (nc.cut_apart). The first part stays. Raises NotPossible, and nothing is done then.
    """
    require(by, Act.UPLOAD_PROGRAM)
    seen = queries.Reviewed(queries.fresh(revision))
    groups = _groups(revision.program.job, [part["last"] for part in queries.parts_of(seen)], moved)
    program = reviewing.read(seen.inputs, queries.content(revision))
    names = _names(revision, program, [setup for setup, _last in groups if setup])
    pieces = nc.cut_apart(program, [last for _setup, last in groups[:-1]], numbers=names)
    stored = [files.store(io.BytesIO(piece.data), media_type=MEDIA_TYPE) for piece in pieces]
    with transaction.atomic():
        job = open_job(revision.program.job)
        if queries.newest(revision.program) != revision:
            raise NotPossible(_("There is a newer revision of this program: split that one."))
        made = [
            _own_program(job, revision, name, setup, piece, kept, by=by)
            for (setup, _last), name, piece, kept in zip(groups[1:], names, pieces[1:], stored[1:], strict=True)
            if setup
        ]
        keep_setups(revision.program, {setup for setup, _last in groups if setup})
        said = _("lines 1 to %(last)d; what followed: %(programs)s")
        note = said % {"last": groups[0][1], "programs": ", ".join(names)}
        rest = pieces[0].data
        made.append(
            add_revision(revision.program, stored[0], rest, by=by, file_name=revision.name, note=note, came_by=APART)
        )
        ledger.append(
            "program_split", chain=job.chain, subject=("program_revision", revision.pk), by=by,
            made=[row.pk for row in made], numbers=names, behind=[last for _setup, last in groups[:-1]],
        )  # fmt: skip
        return made


def _own_program(
    job: Job, revision: ProgramRevision, name: str, setup: Setup, piece: nc.Piece, stored: StoredFile, *, by: User
) -> ProgramRevision:
    note = _("lines %(first)d to %(last)d of %(program)s revision %(number)d") % {
        "first": piece.first, "last": piece.last, "program": revision.program.name, "number": revision.number,
    }  # fmt: skip
    program = new_program(job, revision, name, setup)
    return add_revision(program, stored, piece.data, by=by, file_name=f"{name}.nc", note=note, came_by=APART)


def _groups(job: Job, ends: list[int], moved: Mapping[int, Setup]) -> list[Group]:
    if not moved:
        raise NotPossible(_("Choose a setup for at least one of the parts."))
    if set(moved) - set(ends):
        raise NotPossible(_("The parts were cut elsewhere in the meantime. Load the page again."))
    refuse_wrong_setups(job, list(dict.fromkeys(moved.values())))
    runs = groupby(ends, key=moved.get)
    groups = [(setup, max(lines)) for setup, lines in runs]
    setups = [setup for setup, _last in groups]
    if setups[0] is not None or setups.count(None) > 1:
        raise NotPossible(
            _("The first parts stay in this program, without a gap: choose a setup for each part behind them.")
        )
    twice = next((setup for setup in setups[1:] if setups.count(setup) > 1), None)
    if twice is not None:
        raise NotPossible(
            _("The parts of setup %s do not follow one another, so that they cannot be one program.") % twice.number
        )
    return groups


def _names(revision: ProgramRevision, program: nc.Program, setups: list[Setup]) -> list[str]:
    """What the new programs are called: by free numbers where this one has a number, else by their setups."""
    if not program.number:
        return [f"{revision.program.name[:60]} {_('setup')} {setup.number}" for setup in setups]
    taken = {one.number for one in nc.programs_in(program.source, program.control)}
    taken |= set(revision.program.job.programs.values_list("name", flat=True))
    free = _free_numbers(int(program.number.lstrip("O")), taken)
    return [next(free) for _setup in setups]


def _free_numbers(after: int, taken: set[str]) -> Iterator[str]:
    number = after
    while True:
        number += 1
        if f"O{number}" not in taken and str(number) not in taken:
            yield f"O{number}"
