"""Which revisions are proven: a lot went through all their ops without a change. Computed from the facts, never a flag.

Of a lot at an op: every run is finished and no other revision was on the floor meanwhile; pieces were counted good and
none stands there or is still to come; nothing that came back from the control was changed, and nothing was said to be
changed without coming back; no piece was scrapped with the program named as the cause.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from typing import TypeVar

from shopflow.floor import read_backs
from shopflow.floor.models import FloorCopy, Lot, OpRun, Packet, Place, ReadBack, Standing
from shopflow.jobs.models import Job, Setup, Step
from shopflow.programs.proven import Proven
from shopflow.records.models import LedgerRow

Row = TypeVar("Row")
Key = TypeVar("Key", bound=Hashable)

PROGRAM = "program"
"""The cause that the history keeps of pieces scrapped for the program (floor.actions)."""


def proven(revisions: Collection[int]) -> list[Proven]:
    """Every lot that proves one of these revisions (by id)."""
    copies = FloorCopy.objects.filter(revision__in=revisions, use=FloorCopy.Use.LOT)
    rows = copies.select_related("packet__job", "revision", "sign_off").order_by("revision", "-packet__number")
    newest = [next(group) for _revision, group in groupby(rows, key=lambda copy: copy.revision_id)]
    happened = _Happened(newest)
    return [one for copy in newest for one in _lots_of(copy, happened)]


class _Happened:
    """What happened on the floor in the jobs of some floor copies, read together for all of them."""

    def __init__(self, copies: Iterable[FloorCopy]) -> None:
        self._jobs = {copy.packet.job_id for copy in copies}
        self._programs = {copy.revision.program_id for copy in copies}

    @cached_property
    def setups(self) -> dict[int, set[int]]:
        """Ids of the setups that each program runs."""
        pairs = Setup.objects.filter(programs__in=self._programs).values_list("programs", "pk")
        return {program: {pk for _, pk in found} for program, found in _by(pairs, lambda pair: pair[0]).items()}

    @cached_property
    def steps(self) -> dict[int, list[Step]]:
        """The milled ops of each job, in their order."""
        rows = Step.objects.filter(job__in=self._jobs, setup__isnull=False).order_by("op_number")
        return _by(rows, lambda step: step.job_id)

    @cached_property
    def packets(self) -> dict[int, list[Packet]]:
        """Of each job with their floor copies, oldest first."""
        rows = Packet.objects.filter(job__in=self._jobs).order_by("number").prefetch_related("floor_copies")
        return _by(rows, lambda packet: packet.job_id)

    @cached_property
    def lots(self) -> dict[int, list[Lot]]:
        return _by(Lot.objects.filter(job__in=self._jobs).order_by("number"), lambda lot: lot.job_id)

    @cached_property
    def runs(self) -> dict[tuple[int, int], list[OpRun]]:
        """By lot and step."""
        rows = OpRun.objects.filter(lot__job__in=self._jobs).select_related("machine")
        return _by(rows, lambda run: (run.lot_id, run.step_id))

    @cached_property
    def returned(self) -> dict[tuple[int, int], list[ReadBack]]:
        """What came back from the controls, by lot and step."""
        rows = ReadBack.objects.filter(lot__job__in=self._jobs)
        return _by(rows, lambda row: (row.lot_id, row.step_id))

    @cached_property
    def to_come(self) -> dict[int, list[int]]:
        """Of each lot the op numbers at which pieces stand, are held or away."""
        places = (Place.STEP, Place.HELD, Place.OUTSIDE)
        rows = Standing.objects.filter(lot__job__in=self._jobs, place__in=places, quantity__gt=0)
        pairs = rows.values_list("lot", "step__op_number")
        return {lot: [op for _, op in found] for lot, found in _by(pairs, lambda pair: pair[0]).items()}

    @cached_property
    def told(self) -> dict[int, list[LedgerRow]]:
        """Of each lot what the ledger says of pieces counted good or scrapped."""
        lots = [lot.pk for found in self.lots.values() for lot in found]
        rows = LedgerRow.objects.filter(
            subject_kind="lot", subject_id__in=lots, kind__in=("counted_good", "pieces_scrapped")
        )
        return _by(rows, lambda row: row.subject_id)

    def with_ancestors(self, lot: Lot) -> list[int]:
        """The lot and those that it was split from, by id."""
        parents = {one.pk: one.parent_id for one in self.lots[lot.job_id]}
        found, one = [lot.pk], lot.parent_id
        while one is not None:
            found.append(one)
            one = parents[one]
        return found


def _by(rows: Iterable[Row], key: Callable[[Row], Key]) -> dict[Key, list[Row]]:
    found: dict[Key, list[Row]] = {}
    for row in rows:
        found.setdefault(key(row), []).append(row)
    return found


def _lots_of(copy: FloorCopy, happened: _Happened) -> list[Proven]:
    job = copy.packet.job
    setups = happened.setups.get(copy.revision.program_id, set())
    steps = [step for step in happened.steps.get(job.pk, []) if step.setup_id in setups]
    if not steps or len(steps) < len(setups):
        return []
    lots = [_Lot(lot, copy, job, happened) for lot in happened.lots.get(job.pk, [])]
    return [found for lot in lots if (found := lot.through(steps))]


@dataclass(frozen=True)
class _Lot:
    """One lot of the job, with the floor copy that it may have run."""

    lot: Lot
    copy: FloorCopy
    job: Job
    happened: _Happened

    def through(self, steps: list[Step]) -> Proven | None:
        """The proof that this lot is of the revision, where it went through all these ops of it."""
        runs = [self._clean_runs(step) for step in steps]
        good = [self._good(step) for step in steps]
        machines = {run.machine for found in runs for run in found}
        if not all(runs) or not all(good) or len(machines) != 1:
            return None
        last = max(run.finished_at for found in runs for run in found if run.finished_at)
        (machine,) = machines
        if machine is None:
            return None
        ops = tuple(step.op_number for step in steps)
        return Proven(
            self.copy.revision_id, machine, self.job.number, self.lot.number, ops, min(good), last, self.copy.sign_off
        )

    def _clean_runs(self, step: Step) -> list[OpRun]:
        """The runs of the op; none where one of them does not speak for the program."""
        runs = self.happened.runs.get((self.lot.pk, step.pk), [])
        lots = self.happened.with_ancestors(self.lot)
        returned = [row for lot in lots for row in self.happened.returned.get((lot, step.pk), [])]
        is_changed = any(row.handling != ReadBack.Handling.NONE for row in returned)
        is_to_come = any(op <= step.op_number for op in self.happened.to_come.get(self.lot.pk, []))
        if is_changed or is_to_come or any(read_backs.is_wanted(run, returned) for run in runs):
            return []
        return runs if all(map(self._ran_this_alone, runs)) else []

    def _ran_this_alone(self, run: OpRun) -> bool:
        """Whether the newest packet of the time, and every one that came while it ran, held this revision."""
        if run.finished_at is None:
            return False
        end = run.finished_at
        known = [packet for packet in self.happened.packets.get(self.job.pk, []) if packet.released_at <= end]
        before = [packet for packet in known if packet.released_at <= run.started_at]
        return bool(before) and all(self._is_in(packet) for packet in known[len(before) - 1 :])

    def _is_in(self, packet: Packet) -> bool:
        return any(copy.revision_id == self.copy.revision_id for copy in packet.floor_copies.all())

    def _good(self, step: Step) -> int:
        """Pieces counted good at the op; 0 where one was scrapped for the program."""
        told = [row for row in self.happened.told.get(self.lot.pk, []) if row.data.get("op") == step.op_number]
        if any(row.kind == "pieces_scrapped" and row.data.get("cause") == PROGRAM for row in told):
            return 0
        return sum(row.data["quantity"] for row in told if row.kind == "counted_good")
