"""What marked edits would make of a program, told before anybody takes them; and how revisions are compared."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.programs import comparing, reviewing
from shopflow.programs.comparing import ReadAs
from shopflow.programs.editing import Edit, apply, carry_out, described
from shopflow.programs.editing.edit import from_row
from shopflow.programs.editing.proposals import Given
from shopflow.programs.inputs import Inputs
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries.programs import content
from shopflow.programs.queries.reviewed import Reviewed


def marked_edits(seen: Reviewed, ids: Collection[str], own: Sequence[Edit] = ()) -> list[Edit]:
    """The proposed edits of these ids with those that a person made. Raises NotPossible where one is gone."""
    proposed = {row["id"]: row for row in seen.edits}
    if set(ids) - set(proposed):
        raise NotPossible(_("One of these edits is not proposed any more. Load the page again."))
    chosen = [from_row(proposed[name]) for name in dict.fromkeys(ids)] + list(own)
    if not chosen:
        raise NotPossible(_("Mark the edits that you take first."))
    return chosen


def with_edits(seen: Reviewed, chosen: Sequence[Edit]) -> tuple[bytes, list[str]]:
    """The bytes with these edits, and what was done. Raises NotPossible where they do not fit or contradict."""
    inputs = seen.inputs
    return carry_out(
        lambda data: reviewing.read(inputs, data), content(seen.revision), chosen, shift=inputs.length_offset_shift
    )


def effect_of(seen: Reviewed, chosen: Sequence[Edit]) -> dict[str, Any]:
    """What these edits together change (comparing.compare). Raises as `with_edits`."""
    data, _said = with_edits(seen, chosen)
    return comparing.compare(content(seen.revision), data, _read_as(seen.inputs))


def own_rows(seen: Reviewed, own: Sequence[Edit]) -> list[dict[str, Any]]:
    """Edits that a person made, as proposals are shown (editing.described). Raises NotPossible where one fits not."""
    if not own:
        return []
    inputs = seen.inputs
    program = reviewing.read(inputs, content(seen.revision))
    seconds = Given(program, inputs.machine, inputs.tools).seconds
    return [
        described(
            program,
            apply(program, edit, shift=inputs.length_offset_shift),
            edit,
            machine=inputs.machine,
            seconds=seconds,
        )
        | {"as_text": edit.as_text}
        for edit in own
    ]


def read_as(before: ProgramRevision, after: ProgramRevision) -> ReadAs:
    """How two revisions are compared: as the machine of the later one's plan reads and runs them, with both's tools."""
    now = Reviewed(after).inputs
    earlier = Reviewed(before).inputs
    tools = {tool.number: tool for tool in (*earlier.tools, *now.tools)}
    return _read_as(now, tuple(tools.values()))


def _read_as(inputs: Inputs, tools: tuple[Any, ...] | None = None) -> ReadAs:
    return ReadAs(inputs.control, inputs.machine, inputs.tools if tools is None else tools)
