"""What reports from the floor say of tools: pieces that were cut took some of their life, miscounts never did."""

from __future__ import annotations

from shopflow.floor import queries
from shopflow.floor.models import Lot, OpRun
from shopflow.jobs.models import SetupTool, Step
from shopflow.people.models import User
from shopflow.programs import queries as programs
from shopflow.shop import tool_life


def tools_of(step: Step, pieces: int, *, seen: programs.Reviewed | None) -> list[tuple[SetupTool, str]]:
    """The tools of a step's setup, each with what to know before so many pieces are cut with it; "" for nothing.
    seen: the revision on the floor, None where there is none."""
    if step.setup is None:
        return []
    uses = programs.uses_of(seen, step.setup) if seen else {}
    short = {one.tool.number: str(one) for one in programs.short_of(uses, pieces)}
    rows = step.setup.setup_tools.select_related("tool__holder")
    return [(row, short.get(row.tool.number, "")) for row in rows]


def note(lot: Lot, step: Step, pieces: int, *, by: User) -> None:
    """So many pieces were cut at this op, or (below 0) were said to be and were not."""
    copy = queries.floor_copy_of(step)
    if copy is not None:
        uses = programs.uses_a_piece(copy.revision, step.setup)
        tool_life.note_use(uses, pieces, lot=lot.pk, op=step.op_number, of=lot.job.chain, by=by)


def note_if_run(lot: Lot, step: Step, pieces: int, *, by: User) -> None:
    """A piece that is scrapped where its op runs was cut there, as far as anybody can tell."""
    if OpRun.objects.filter(lot__in=lot.with_ancestors, step=step).exists():
        note(lot, step, pieces, by=by)


def note_before(lot: Lot, step: Step, pieces: int, *, by: User) -> None:
    """A miscount found at this op: the ops that ran before it counted as many too many (below 0) or too few."""
    for earlier in lot.job.steps.filter(op_number__lt=step.op_number).order_by("op_number"):
        note_if_run(lot, earlier, pieces, by=by)
