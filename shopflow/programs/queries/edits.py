"""What marked edits would make of a program, told before anybody takes them; and how revisions are compared."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.programs import trials, typed
from shopflow.programs.comparing import ReadAs
from shopflow.programs.editing import Edit, carry_out
from shopflow.programs.editing.edit import from_row
from shopflow.programs.inputs import Inputs
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries.programs import content
from shopflow.programs.queries.renumbering import refuse_wrong_numbers
from shopflow.programs.queries.reviewed import Reviewed
from shopflow.programs.trials import Asked
from shopflow.records import work
from shopflow.records.models import Work


def marked_edits(seen: Reviewed, ids: Collection[str], own: Sequence[Edit] = ()) -> list[Edit]:
    """The proposed edits of these ids with those that a person made. Raises NotPossible where one is gone."""
    proposed = {row["id"]: row for row in seen.edits}
    if set(ids) - set(proposed):
        raise NotPossible(_("One of these edits is not proposed any more. Load the page again."))
    chosen = [from_row(proposed[name]) for name in dict.fromkeys(ids)] + list(own)
    if not chosen:
        raise NotPossible(_("Mark the edits that you take first."))
    return chosen


def trial_of(seen: Reviewed, edits: Sequence[Edit], *, together: bool) -> Asked:
    """What a trial of these edits is computed from (trials.tried). Raises NotPossible for numbers that do not fit."""
    inputs = seen.inputs
    refuse_wrong_numbers(inputs, edits)
    return Asked.of(inputs.content, _read_as(inputs), inputs.length_offset_shift, edits, together=together)


def with_edits(seen: Reviewed, chosen: Sequence[Edit]) -> tuple[bytes, list[str]]:
    """The bytes with these edits, and what was done: as they were tried together, or carried out now.

    Raises NotPossible where they do not fit or contradict.
    """
    asked = trial_of(seen, chosen, together=True)
    key = work.key_of(trials.TRIAL, {"asked": typed.plain(asked)}, version=trials.VERSION)
    row = Work.objects.filter(key=key, state=Work.State.DONE).first()
    if row is not None and row.result and (kept := trials.edited(row)) is not None:
        return kept, row.result["sayings"]
    return carry_out(asked.read_as.read, content(seen.revision), chosen, shift=asked.shift)


def read_as(before: ProgramRevision, after: ProgramRevision) -> ReadAs:
    """How two revisions are compared: as the machine of the later one's plan reads and runs them, with both's tools."""
    now = Reviewed(after).inputs
    earlier = Reviewed(before).inputs
    tools = {tool.number: tool for tool in (*earlier.tools, *now.tools)}
    return _read_as(now, tuple(tools.values()))


def _read_as(inputs: Inputs, tools: tuple[Any, ...] | None = None) -> ReadAs:
    return ReadAs(inputs.control, inputs.machine, inputs.tools if tools is None else tools)
