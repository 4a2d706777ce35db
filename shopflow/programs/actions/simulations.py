"""Asking for the removal of material, and computing it in a worker."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from shopflow.core.solid import Reading
from shopflow.core.stock.columns import Columns
from shopflow.jobs.actions import read_model
from shopflow.jobs.models import Job
from shopflow.programs import queries, simulating
from shopflow.programs.actions import carrying, lapses, tallies
from shopflow.programs.models import ProgramRevision
from shopflow.programs.stock_asked import SIMULATION, Lacking, asked_of
from shopflow.records import cache, files, work
from shopflow.records.models import Work


@transaction.atomic
def ask_simulation(revision: ProgramRevision) -> Work | None:
    """The removal under today's values: the one there is, or a new one; None where something is missing for it."""
    revision = queries.fresh(revision)
    asked = asked_of(revision)
    if isinstance(asked, Lacking):
        return None
    row = work.ask(SIMULATION, asked.plain, version=simulating.VERSION, subject=("program_revision", revision.pk))
    if row.state == Work.State.DONE:  # the same bytes were cut from the same stock before
        tallies.note_removal(revision, row.result or {})
    return row


def ask_simulations(job: Job) -> None:
    """Of every program of the job in the order of its setups: what one leaves is what the next one starts from."""
    for program in queries.programs_of(job):
        revision = queries.newest(program)
        if revision is not None and queries.Reviewed(revision).is_done:
            ask_simulation(revision)


def simulate(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Remove the material that a piece of work names; writes no rows."""
    asked = simulating.asked_from(row.data)
    before = _states(asked.before, progress) if asked.before else ()
    data = files.content_of(asked.content)
    if asked.blank and cache.read(asked.places[0].form.model) is None:
        read_model(Work.objects.get(key=asked.blank), progress)  # its mesh was lost from the cache
    reading = Reading.from_json(Work.objects.get(key=asked.reading).result or {})
    return simulating.simulate(asked, data, before, reading=reading, key=row.key, progress=progress)


def _states(key: str, progress: work.Progress) -> tuple[Columns, ...]:
    """What the program before left; computed here where the cache does not have it. None where nobody asked for it."""
    kept = simulating.states_left(key)
    if not kept:
        row = Work.objects.filter(key=key).first()
        if row is None:
            return ()
        simulate(row, progress)
        kept = simulating.states_left(key)
    return kept


def note_simulation(row: Work, result: dict[str, Any]) -> None:
    """What follows from a finished removal, in the transaction that marks it done."""
    revision = ProgramRevision.objects.filter(pk=row.subject_id).first()
    if revision is None:
        return
    row.state, row.result = Work.State.DONE, result
    revision = queries.fresh(revision)
    tallies.note_removal(revision, result)
    carrying.carry_decisions(revision)
    lapses.note_standing(revision.program, by=None)
