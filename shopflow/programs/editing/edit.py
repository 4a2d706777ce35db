"""One edit as plain values, how each kind is carried out, and in which order several are."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from django.utils.translation import gettext as _

from shopflow.core.errors import NotPossible
from shopflow.core.nc import Program, edits, tool_edits
from shopflow.core.nc.edits import Edited
from shopflow.records.canonical import digest

MOST_TEXT = 120
_PAIR = re.compile(r"(\d{1,6})\s*=\s*(\d{1,6})")


@dataclass(frozen=True)
class Edit:
    """kind: one of KINDS. line, tool: 0 where the kind needs none. value: a number, a code or a text, as KINDS says."""

    kind: str
    line: int = 0
    tool: int = 0
    value: str = ""

    @property
    def id(self) -> str:
        return digest([self.kind, self.line, self.tool, self.value])[:16]

    @property
    def as_text(self) -> str:
        """For a form that carries it from page to page; `from_text` reads it."""
        return json.dumps([self.kind, self.line, self.tool, self.value])

    @property
    def span(self) -> range:
        """The lines that it is about."""
        return range(self.line, int(self.value) + 1) if self.kind == "remove" else range(self.line, self.line + 1)


def from_text(text: str) -> Edit:
    """Raises NotPossible for anything that `as_text` did not write."""
    try:
        kind, line, tool, value = json.loads(text)
        made = Edit(str(kind), int(line), int(tool), str(value)[:MOST_TEXT])
    except (ValueError, TypeError):
        raise NotPossible(_("One of the edits cannot be read. Load the page again.")) from None
    if made.kind not in KINDS or (made.kind == "remove" and not made.value.isdecimal()):
        raise NotPossible(_("One of the edits cannot be read. Load the page again."))
    return made


def from_row(row: Mapping[str, Any]) -> Edit:
    """The edit of a proposal that is kept with a review."""
    return Edit(row["kind"], row["line"], row.get("tool", 0), row["value"])


class When(IntEnum):
    """Order of several edits: those that move no line, then those of lines from the last to the first, so that no edit
    moves a line that another still names; numbers of tools change last, since all others name the old ones."""

    IN_PLACE = 0
    BY_LINE = 1
    BY_TOOL = 2
    NUMBERS = 3


@dataclass(frozen=True)
class Kind:
    """do: carries it out on a reading; shift: H and D are the tool's number plus this. target: two edits of the same
    target on the same line and tool contradict each other."""

    when: When
    target: str
    do: Callable[[Program, Edit, int], Edited]


def _number(edit: Edit) -> float:
    try:
        return float(edit.value)
    except ValueError:
        raise NotPossible(_("“%s” is no number.") % edit.value) from None


def _whole(edit: Edit) -> int:
    number = _number(edit)
    if not number.is_integer():
        raise NotPossible(_("“%s” is no whole number.") % edit.value)
    return int(number)


def new_numbers(edit: Edit) -> dict[int, int]:
    """Old number to new of a renumbering: "41=3, 52=4"; the new one alone where the edit names the tool."""
    return {edit.tool: _whole(edit)} if edit.tool else {int(old): int(new) for old, new in _PAIR.findall(edit.value)}


def _renumber(program: Program, edit: Edit, shift: int) -> Edited:
    return tool_edits.renumber(program, new_numbers(edit), shift=shift)


KINDS: dict[str, Kind] = {
    "speed-feed": Kind(
        When.IN_PLACE,
        "speed",
        lambda program, edit, _s: tool_edits.set_speed_and_feed(program, edit.tool, _number(edit)),
    ),
    "speed": Kind(
        When.IN_PLACE, "speed", lambda program, edit, _s: tool_edits.set_speed(program, edit.tool, _number(edit))
    ),
    "feed": Kind(
        When.IN_PLACE, "feed", lambda program, edit, _s: tool_edits.scale_feed(program, edit.tool, _number(edit))
    ),
    "feed-limit": Kind(
        When.IN_PLACE, "feed", lambda program, edit, _s: tool_edits.limit_feed(program, edit.tool, _number(edit))
    ),
    "peck": Kind(When.BY_LINE, "cycle", lambda program, edit, _s: edits.peck(program, edit.line, _number(edit))),
    "peck-depth": Kind(
        When.BY_LINE, "cycle", lambda program, edit, _s: edits.peck_depth(program, edit.line, _number(edit))
    ),
    "length-offset": Kind(
        When.BY_LINE, "H", lambda program, edit, _s: tool_edits.correct_length_offset(program, edit.line, _whole(edit))
    ),
    "stop": Kind(When.BY_LINE, "stop", lambda program, edit, _s: edits.insert_stop(program, edit.line, edit.value)),
    "remove": Kind(
        When.BY_LINE, "line", lambda program, edit, _s: tool_edits.remove_lines(program, edit.line, _whole(edit))
    ),
    "coolant": Kind(
        When.BY_TOOL, "coolant", lambda program, edit, _s: tool_edits.coolant_on(program, edit.tool, code=edit.value)
    ),
    "renumber": Kind(When.NUMBERS, "number", _renumber),
}
"""value of each: speeds in rpm, feed a factor, feed-limit mm/min, pecks mm, length-offset the new H, stop what the
person is to do, remove the last line that goes, coolant M07 or M08, renumber the new numbers."""


def apply(program: Program, edit: Edit, *, shift: int = 0) -> Edited:
    """Carry one edit out on this reading. Raises NotPossible where it does not fit or would change anything else."""
    return KINDS[edit.kind].do(program, edit, shift)


def carry_out(
    read: Callable[[bytes], Program], data: bytes, chosen: Iterable[Edit], *, shift: int = 0
) -> tuple[bytes, list[str]]:
    """The bytes with all of these edits, each proved on what the one before left, and what was done, in their order.

    Raises NotPossible where two contradict each other or one does not fit.
    """
    ordered = sorted(dict.fromkeys(chosen), key=_order)
    _refuse_contradictions(ordered)
    sayings = []
    for edit in ordered:
        edited = apply(read(data), edit, shift=shift)
        data = edited.data
        sayings.append(edited.saying)
    return data, sayings


def _order(edit: Edit) -> tuple[int, int, str, int, str]:
    return KINDS[edit.kind].when, -edit.line, edit.kind, edit.tool, edit.value


def _refuse_contradictions(chosen: list[Edit]) -> None:
    for number, one in enumerate(chosen):
        for other in chosen[number + 1 :]:
            same_target = KINDS[one.kind].target == KINDS[other.kind].target
            if same_target and (one.line, one.tool) == (other.line, other.tool):
                where = _("line %d") % one.line if one.line else f"T{one.tool}"
                raise NotPossible(_("Two of the marked edits say different things about %s: take one of them.") % where)
    for gone in (edit for edit in chosen if edit.kind == "remove"):
        inside = next((edit for edit in chosen if edit is not gone and edit.line and edit.line in gone.span), None)
        if inside is not None:
            said = {"first": gone.line, "last": gone.value, "line": inside.line}
            raise NotPossible(
                _("Lines %(first)s to %(last)s are to go, and another marked edit is about line %(line)s: take one.")
                % said
            )
