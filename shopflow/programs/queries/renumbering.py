"""New tool numbers against the machine's carousel and the crib: what is refused, and what a person is warned of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.types import Tool
from shopflow.programs.editing import Edit
from shopflow.programs.editing.edit import new_numbers
from shopflow.programs.inputs import Inputs
from shopflow.shop import queries as shop

RENUMBER = "renumber"


def refuse_wrong_numbers(inputs: Inputs, edits: Iterable[Edit]) -> None:
    """Raise NotPossible for a number that has no pocket, or that the crib gives to a tool of another kind."""
    renumbered = [edit for edit in edits if edit.kind == RENUMBER]
    crib = shop.core_tools() if renumbered else {}
    for edit in renumbered:
        for old, new in new_numbers(edit).items():
            pockets = inputs.machine.carousel if inputs.machine else None
            if pockets is not None and new > pockets:
                raise NotPossible(
                    _("T%(new)d has no pocket: the carousel of the machine has %(pockets)d.")
                    % {"new": new, "pockets": pockets}
                )
            if old in crib and new in crib and not _same(crib[old], crib[new]):
                raise NotPossible(
                    _(
                        "T%(old)d is a %(was)s in the crib, and T%(new)d a %(now)s: the program would run with another"
                        " tool. Choose another number, or mend the crib first."
                    )
                    % {"old": old, "new": new, "was": _plainly(crib[old]), "now": _plainly(crib[new])}
                )


def warnings_of(rows: Iterable[Mapping[str, Any]], inputs: Inputs) -> dict[str, list[str]]:
    """Of edits as they are kept (editing.described): what a person should know of the numbers, by the edit's id."""
    renumbered = [row for row in rows if row["kind"] == RENUMBER]
    crib = shop.core_tools() if renumbered else {}
    return {row["id"]: _warnings(Edit(RENUMBER, 0, row["tool"], row["value"]), inputs, crib) for row in renumbered}


def _warnings(edit: Edit, inputs: Inputs, crib: Mapping[int, Tool]) -> list[str]:
    try:
        refuse_wrong_numbers(inputs, [edit])
    except NotPossible as refusal:
        return [str(refusal)]
    return list(_unknown(edit, inputs, crib))


def _unknown(edit: Edit, inputs: Inputs, crib: Mapping[int, Tool]) -> Iterator[str]:
    if inputs.machine is None:
        yield _("The plan names no machine, so nobody knows how many pockets its carousel has.")
    for old, new in new_numbers(edit).items():
        if new not in crib:
            yield _("T%d is not in the crib: enter it before the new revision is reviewed.") % new
        elif old not in crib:
            yield _("T%(old)d is not in the crib. T%(new)d is a %(now)s there: see that it is the tool meant.") % {
                "old": old, "new": new, "now": _plainly(crib[new]),
            }  # fmt: skip


def _plainly(tool: Tool) -> str:
    return f"{tool.diameter_mm:g} mm {tool.shape.value}"


def _same(one: Tool, other: Tool) -> bool:
    """Whether two numbers hold tools of one kind: alike in all that is cut and checked with."""
    return _without_name(one) == _without_name(other)


def _without_name(tool: Tool) -> Tool:
    holder = replace(tool.holder, name="") if tool.holder else None
    return replace(tool, number=0, name="", holder=holder)
