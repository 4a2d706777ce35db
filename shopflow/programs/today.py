"""The rows that a job's programs are judged by, each read once however many of its programs ask."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cached_property
from typing import Any, TypeVar

from django.db.models import Exists, OuterRef, QuerySet

from shopflow.core.cutting.rows import DataRow
from shopflow.core.review import HouseRules
from shopflow.core.solid import Reading
from shopflow.jobs import queries as jobs
from shopflow.jobs.models import Job, JobFile, Setup
from shopflow.programs.models import Decision, Program, ProgramRevision, SignOff
from shopflow.shop import queries as shop
from shopflow.shop.models import Tool

T = TypeVar("T")


def _first_setup(program: Program) -> int:
    return min((setup.number for setup in program.setups.all()), default=10_000)


class Today:
    """What plan, shop and people say of a job now: make a new one after anything changed.

    about: the revisions that are asked about; the newest of each program of the job where None.
    """

    def __init__(self, job: Job, about: Iterable[ProgramRevision] | None = None) -> None:
        self.job = job
        self._about = None if about is None else list(about)
        self._done: dict[Any, Any] = {}

    @classmethod
    def of(cls, revision: ProgramRevision) -> Today:
        """For one revision."""
        return cls(revision.program.job, [revision])

    def once(self, compute: Callable[[ProgramRevision, Today], T], revision: ProgramRevision) -> T:
        """What a function says of a revision today, computed the first time that somebody asks."""
        key = (compute, revision.pk)
        if key not in self._done:
            self._done[key] = compute(revision, self)
        known: T = self._done[key]
        return known

    @cached_property
    def about(self) -> list[ProgramRevision]:
        return list(self.newest.values()) if self._about is None else self._about

    @cached_property
    def setups(self) -> list[Setup]:
        """All of the job, with everything that a review reads of them."""
        rows = self.job.setups.select_related("machine", "blank_file__stored", "fixture")
        return list(rows.prefetch_related("touches__after_tool", "tools", "operations__tool"))

    @cached_property
    def programs(self) -> list[Program]:
        """In the order of the setups that they run."""
        programs = list(self.job.programs.prefetch_related("setups"))
        return sorted(programs, key=lambda program: (_first_setup(program), program.name))

    @cached_property
    def _run_by(self) -> dict[int, set[int]]:
        """Of each program the ids of the setups that it runs."""
        return {program.pk: {setup.pk for setup in program.setups.all()} for program in self.programs}

    def setups_of(self, program_id: int) -> list[Setup]:
        """Those that a program runs, in the order of the plan."""
        run = self._run_by[program_id]
        return [setup for setup in self.setups if setup.pk in run]

    def is_run_by_another(self, setup: Setup, program_id: int) -> bool:
        """Whether a program besides this one runs a setup."""
        return any(setup.pk in run for other, run in self._run_by.items() if other != program_id)

    @cached_property
    def newest(self) -> dict[int, ProgramRevision]:
        """The newest revision of each program by its id, in the order of the programs; none where nothing was sent."""
        newer = ProgramRevision.objects.filter(program=OuterRef("program"), number__gt=OuterRef("number"))
        rows = ProgramRevision.objects.filter(~Exists(newer), program__job=self.job).select_related("stored")
        found = {row.program_id: row for row in rows}
        for program in self.programs:
            if program.pk in found:
                found[program.pk].program = program
        return {program.pk: found[program.pk] for program in self.programs if program.pk in found}

    @cached_property
    def _crib(self) -> dict[int, Tool]:
        """The tools that any of these revisions may call, by number."""
        revisions = {revision.pk: revision for revision in [*self.about, *self.newest.values()]}.values()
        tools = shop.tools()
        if not any(revision.calls_any for revision in revisions):
            tools = tools.filter(number__in={number for revision in revisions for number in revision.called})
        return {tool.number: tool for tool in tools}

    def crib_of(self, revision: ProgramRevision) -> dict[int, Tool | None]:
        """The crib's tool of each number that the text may call; None where the crib has none of that number."""
        if revision.calls_any:
            return dict(self._crib)
        return {number: self._crib.get(number) for number in revision.called}

    @cached_property
    def house_rules(self) -> HouseRules:
        return shop.house_rules()

    @cached_property
    def own_data(self) -> tuple[DataRow, ...]:
        """The shop's own speeds and feeds."""
        return tuple(shop.own_cutting_data())

    @cached_property
    def model(self) -> JobFile | None:
        return self.job.files.filter(kind=JobFile.Kind.MODEL).select_related("stored").first()

    @cached_property
    def reading(self) -> Reading | None:
        """What the job's model says, once it is read."""
        return jobs.reading_of(self.job)

    @cached_property
    def sign_offs(self) -> dict[tuple[int, str], SignOff]:
        """The newest of the bytes of each revision that is asked about, by program and SHA-256."""
        bytes_asked = {revision.stored.sha256 for revision in self.about}
        rows = self._signed().filter(content_sha256__in=bytes_asked).select_related("revision", "signed_by")
        return {(row.revision.program_id, row.content_sha256): row for row in rows.reverse()}

    @cached_property
    def sign_offs_of_any_bytes(self) -> dict[int, SignOff]:
        """The newest of each program, whatever its bytes, without what it binds and what was seen."""
        rows = self._signed().select_related("revision").defer("assumptions", "evidence", "versions")
        return {row.revision.program_id: row for row in rows.reverse()}

    def _signed(self) -> QuerySet[SignOff]:
        """Newest first."""
        return SignOff.objects.filter(revision__program__in={revision.program_id for revision in self.about})

    @cached_property
    def _decisions(self) -> dict[int, list[Decision]]:
        signed = {row.revision_id for row in self.sign_offs.values()}
        rows = Decision.objects.filter(revision__in=signed | {revision.pk for revision in self.about})
        found: dict[int, list[Decision]] = {}
        for row in rows.select_related("revision", "decided_by", "carried_from__revision__program__job"):
            found.setdefault(row.revision_id, []).append(row)
        return found

    def decisions(self, revision_id: int) -> list[Decision]:
        """Of a revision that is asked about or was signed, newest first."""
        return self._decisions.get(revision_id, [])
