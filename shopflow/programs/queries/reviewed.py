"""A revision with the review that counts for it now, gathered once for everything that a page asks about it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any

from django.db.models import QuerySet

from shopflow.core.nc.restart import Restart, restarts
from shopflow.jobs.models import Job
from shopflow.programs import drawing, reviewing, simulating
from shopflow.programs.inputs import Inputs, inputs_of
from shopflow.programs.models import ProgramRevision, Review
from shopflow.programs.queries.findings import Found, counting, found_in, merged, with_decisions
from shopflow.programs.queries.programs import content
from shopflow.programs.stock_asked import SIMULATION, Lacking, asked_of
from shopflow.programs.today import Today
from shopflow.records import cache
from shopflow.records import work as long_work
from shopflow.records.models import Work


class Among:
    """Revisions of one job that are asked about together: as many queries for ten of them as for one."""

    def __init__(self, today: Today) -> None:
        self.today = today

    @classmethod
    def newest_of(cls, job: Job) -> Among:
        """The newest revision of each of its programs."""
        return cls(Today(job))

    @cached_property
    def by_program(self) -> dict[int, Reviewed]:
        """By the id of the program, in the order of the setups that they run."""
        return {revision.program_id: Reviewed(revision, self) for revision in self.today.about}

    @cached_property
    def current(self) -> dict[int, Review]:
        """The newest review of each revision (by id) under exactly today's inputs."""
        hashes = {revision.pk: self.today.once(inputs_of, revision).hash for revision in self.today.about}
        rows = Review.objects.filter(revision__in=hashes, assumptions_hash__in=set(hashes.values()))
        return _newest(rows, lambda row: hashes[row[1]] == row[2])

    @cached_property
    def under_any(self) -> dict[int, Review]:
        """The newest review of each revision (by id), whatever it was asked with."""
        return _newest(Review.objects.filter(revision__in=self.today.about), lambda row: True)

    @cached_property
    def simulations(self) -> dict[str, Work]:
        """The removals of material that are asked for today, by key."""
        every = (self.today.once(asked_of, revision) for revision in self.today.about)
        keys = {_simulation_key(asked) for asked in every if not isinstance(asked, Lacking)}
        return {row.key: row for row in Work.objects.filter(key__in=keys)}


def _newest(reviews: QuerySet[Review], counts: Callable[[tuple[int, int, str]], bool]) -> dict[int, Review]:
    """By revision. counts: of (id, revision, hash of the inputs). What they found is long: read of the newest alone."""
    first: dict[int, int] = {}
    for row in reviews.order_by("-pk").values_list("pk", "revision", "assumptions_hash"):
        if counts(row):
            first.setdefault(row[1], row[0])
    rows = Review.objects.select_related("work").filter(pk__in=first.values())
    return {row.revision_id: row for row in rows}


def _simulation_key(asked: simulating.Asked) -> str:
    return long_work.key_of(SIMULATION, asked.plain, version=simulating.VERSION)


class Reviewed:
    """What was true when it was asked; make a new one after anything changed."""

    def __init__(self, revision: ProgramRevision, among: Among | None = None) -> None:
        self.revision = revision
        self._among = among or Among(Today.of(revision))
        self.today = self._among.today

    @property
    def is_newest(self) -> bool:
        """Whether no other revision of its program came after it."""
        return self.today.newest.get(self.revision.program_id) == self.revision

    @property
    def inputs(self) -> Inputs:
        """What a review would be computed from today."""
        return self.today.once(inputs_of, self.revision)

    @property
    def current(self) -> Review | None:
        """The newest review under exactly these inputs; None while nobody asked for one."""
        return self._among.current.get(self.revision.pk)

    @property
    def review(self) -> Review | None:
        """The review to show: the current one, or the newest of all while that was not asked for yet."""
        return self.current or self._among.under_any.get(self.revision.pk)

    @property
    def is_done(self) -> bool:
        return self.review is not None and self.review.is_done

    @property
    def result(self) -> dict[str, Any]:
        """What the review found (programs.reviewing.review); empty until it is done."""
        return self.review.result if self.review else {}

    @property
    def reading(self) -> dict[str, Any] | None:
        """What the program reads as (programs.summary.summary)."""
        return self.result.get("reading")

    @cached_property
    def findings(self) -> list[Found]:
        """All of them, heaviest first, then in the order of the program."""
        decisions = counting(self.today.decisions(self.revision.pk))
        found = with_decisions(found_in(self._kept), decisions, self.revision.pk, self._with_edits)
        return sorted(found, key=lambda f: (-f.weight.rank, f.setup, f.first_line, f.code))

    @cached_property
    def _kept(self) -> list[Mapping[str, Any]]:
        if not self.is_done:
            return []
        text = self.result.get("findings", [])
        return merged(text, self.removal["findings"]) if self.removal else list(text)

    @property
    def _asked(self) -> simulating.Asked | Lacking:
        return self.today.once(asked_of, self.revision)

    @property
    def lacking(self) -> Lacking | None:
        """What is missing for the removal of material; None where it can be computed."""
        return self._asked if isinstance(self._asked, Lacking) else None

    @cached_property
    def simulation(self) -> Work | None:
        """The removal of material under today's values; None where it cannot be computed, or nobody asked yet."""
        if isinstance(self._asked, Lacking):
            return None
        return self._among.simulations.get(_simulation_key(self._asked))

    @property
    def removal(self) -> dict[str, Any]:
        """What the removal found (programs.simulating.simulate); empty until it is done."""
        row = self.simulation
        return row.result or {} if row and row.state == Work.State.DONE else {}

    def stock_picture(self, offset: int) -> bytes | None:
        """The stock as it is cut in one work offset (programs.stock_picture); None where there is none."""
        return cache.read(simulating.picture_key(self.simulation.key, offset)) if self.simulation else None

    def stock_stretch(self, offset: int, number: int) -> bytes | None:
        """Every change between one state of that picture and the next, packed by zlib; None where there is none."""
        return cache.read(simulating.stretch_key(self.simulation.key, offset, number)) if self.simulation else None

    def deviation(self, offset: int) -> bytes | None:
        """How far the stock stands off the model (programs.deviation_picture), packed by zlib; None without one."""
        return cache.read(simulating.deviation_key(self.simulation.key, offset)) if self.simulation else None

    @property
    def edits(self) -> list[dict[str, Any]]:
        """Proposed edits (editing.proposals): those of the review, then those of the removal of material."""
        every = [*self.result.get("edits", ()), *self.removal.get("edits", ())] if self.is_done else []
        keys = {row["key"] for row in self._kept}
        return [row for row in every if keys & {row["finding"], *row.get("also", ())}]

    @property
    def _with_edits(self) -> frozenset[str]:
        """The findings (keys) that a proposed edit mends."""
        return frozenset(key for row in self.edits for key in (row["finding"], *row.get("also", ())))

    def drawing(self, offset: int) -> bytes | None:
        """The motions in one work offset (programs.drawing), drawn again where the cache lost them."""
        if self.review is None or not self.is_done:
            return None
        kept = cache.read(drawing.key(self.review.work.key, offset))
        return kept if kept is not None else reviewing.draw_again(self.review.work, content(self.revision), offset)


def review_of(revision: ProgramRevision) -> Review | None:
    """The review that counts now: under today's inputs, or the newest one while that was not asked for yet."""
    return Reviewed(revision).review


def reading(revision: ProgramRevision) -> dict[str, Any] | None:
    """What the program reads as (keys: summary.summary), once a review is done."""
    return Reviewed(revision).reading


def restarts_in(revision: ProgramRevision, copy: bytes) -> tuple[Restart, ...]:
    """Where each tool may start again in a copy of a revision, whose lines are not the revision's own."""
    return restarts(reviewing.read(inputs_of(revision), copy))
