"""Which revisions are proven: a lot went through all their ops without a change. Computed from the facts, never a flag.

Of a lot at an op: every run is finished and no other revision was on the floor meanwhile; pieces were counted good and
none stands there or is still to come; nothing that came back from the control was changed, and nothing was said to be
changed without coming back; no piece was scrapped with the program named as the cause.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import groupby

from shopflow.floor import read_backs
from shopflow.floor.models import FloorCopy, Lot, OpRun, Packet, Place, ReadBack
from shopflow.jobs.models import Step
from shopflow.programs.models import ProgramRevision, SignOff
from shopflow.programs.proven import Proven
from shopflow.records.models import LedgerRow

PROGRAM = "program"
"""The cause that the history keeps of pieces scrapped for the program (floor.actions)."""


def proven(revisions: Collection[int]) -> list[Proven]:
    """Every lot that proves one of these revisions (by id)."""
    copies = FloorCopy.objects.filter(revision__in=revisions, use=FloorCopy.Use.LOT)
    rows = copies.select_related("packet__job", "revision__program", "sign_off").order_by("revision", "-packet__number")
    newest = [next(group) for _revision, group in groupby(rows, key=lambda copy: copy.revision_id)]
    return [one for copy in newest for one in _lots_of(copy)]


def _lots_of(copy: FloorCopy) -> list[Proven]:
    job, revision = copy.packet.job, copy.revision
    setups = list(revision.program.setups.values_list("pk", flat=True))
    steps = list(job.steps.filter(setup__in=setups).select_related("setup__machine").order_by("op_number"))
    packets = list(job.packets.order_by("number").prefetch_related("floor_copies__revision"))
    if not steps or len(steps) < len(setups):
        return []
    lots = [_Lot(lot, revision, packets, copy.sign_off) for lot in job.lots.order_by("number")]
    return [found for lot in lots if (found := lot.through(steps))]


@dataclass(frozen=True)
class _Lot:
    """One lot of the job, and what was on the floor while it ran."""

    lot: Lot
    revision: ProgramRevision
    packets: list[Packet]
    sign_off: SignOff

    def through(self, steps: list[Step]) -> Proven | None:
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
            self.revision.pk, machine, self.lot.job.number, self.lot.number, ops, min(good), last, self.sign_off
        )

    def _clean_runs(self, step: Step) -> list[OpRun]:
        """The runs of the op; none where one of them does not speak for the program."""
        runs = list(OpRun.objects.filter(lot=self.lot, step=step).select_related("machine"))
        returned = read_backs.of_op(self.lot, step)
        is_changed = any(row.handling != ReadBack.Handling.NONE for row in returned)
        still = (Place.STEP, Place.HELD, Place.OUTSIDE)
        to_come = self.lot.standings.filter(step__op_number__lte=step.op_number, place__in=still, quantity__gt=0)
        if is_changed or to_come.exists() or any(read_backs.is_wanted(run, returned) for run in runs):
            return []
        return runs if all(map(self._ran_this_alone, runs)) else []

    def _ran_this_alone(self, run: OpRun) -> bool:
        """Whether the newest packet of the time, and every one that came while it ran, held this revision."""
        if run.finished_at is None:
            return False
        end = run.finished_at
        known = [packet for packet in self.packets if packet.released_at <= end]
        before = [packet for packet in known if packet.released_at <= run.started_at]
        return bool(before) and all(self._is_in(packet) for packet in known[len(before) - 1 :])

    def _is_in(self, packet: Packet) -> bool:
        return any(copy.revision_id == self.revision.pk for copy in packet.floor_copies.all())

    def _good(self, step: Step) -> int:
        """Pieces counted good at the op; 0 where one was scrapped for the program."""
        rows = LedgerRow.objects.filter(
            subject_kind="lot", subject_id=self.lot.pk, kind__in=("counted_good", "pieces_scrapped")
        )
        told = [row for row in rows if row.data.get("op") == step.op_number]
        if any(row.kind == "pieces_scrapped" and row.data.get("cause") == PROGRAM for row in told):
            return 0
        return sum(row.data["quantity"] for row in told if row.kind == "counted_good")
