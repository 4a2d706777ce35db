"""A revision with the review that counts for it now, gathered once for everything that a page asks about it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from shopflow.core.nc.restart import Restart, restarts
from shopflow.programs import drawing, reviewing, simulating
from shopflow.programs.inputs import Inputs, inputs_of
from shopflow.programs.models import ProgramRevision, Review
from shopflow.programs.queries.findings import RANK, Found, found_in, merged, with_decisions
from shopflow.programs.queries.programs import content
from shopflow.programs.stock_asked import SIMULATION, Lacking, asked_of
from shopflow.records import cache
from shopflow.records import work as long_work
from shopflow.records.models import Work


class Reviewed:
    """What was true when it was asked; make a new one after anything changed."""

    def __init__(self, revision: ProgramRevision) -> None:
        self.revision = revision

    @cached_property
    def inputs(self) -> Inputs:
        """What a review would be computed from today."""
        return inputs_of(self.revision)

    @cached_property
    def current(self) -> Review | None:
        """The newest review under exactly these inputs; None while nobody asked for one."""
        return self.revision.reviews.select_related("work").filter(assumptions_hash=self.inputs.hash).first()

    @cached_property
    def review(self) -> Review | None:
        """The review to show: the current one, or the newest of all while that was not asked for yet."""
        return self.current or self.revision.reviews.select_related("work").first()

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
        found = with_decisions(found_in(self._kept), self.revision, self._with_edits)
        return sorted(found, key=lambda f: (-RANK[f.weight], f.setup, f.first_line, f.code))

    @cached_property
    def _kept(self) -> list[Mapping[str, Any]]:
        if not self.is_done:
            return []
        text = self.result.get("findings", [])
        return merged(text, self.removal["findings"]) if self.removal else list(text)

    @cached_property
    def _asked(self) -> simulating.Asked | Lacking:
        return asked_of(self.revision, self.inputs)

    @property
    def lacking(self) -> Lacking | None:
        """What is missing for the removal of material; None where it can be computed."""
        return self._asked if isinstance(self._asked, Lacking) else None

    @cached_property
    def simulation(self) -> Work | None:
        """The removal of material under today's values; None where it cannot be computed, or nobody asked yet."""
        if isinstance(self._asked, Lacking):
            return None
        key = long_work.key_of(SIMULATION, self._asked.plain, version=simulating.VERSION)
        return Work.objects.filter(key=key).first()

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
