"""A program as it came back from the control, against what was put on the machine: what was changed, and who decides.

What a control renumbers, reformats or strips is no change. Some changes only make the cut gentler; whoever runs the
machine may accept those. All others are looked at before the rest of the lot runs, and so is everything that is not
known for certain to be harmless: the lists below name what may pass, never what may not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from shopflow.core.nc.differences import Meaning, meanings
from shopflow.core.nc.program import Program
from shopflow.core.nc.read_back_effect import effects, same_work, skips_leave_out_whole_cuts
from shopflow.core.nc.read_back_kinds import AT_THE_MACHINE, EditKind
from shopflow.core.nc.read_back_lines import LineChange, line_changes, reads_alike

__all__ = ["AT_THE_MACHINE", "EditKind", "Handling", "LineChange", "ReadBack", "read_back"]


class Handling(StrEnum):
    """Who has to look at a read-back."""

    NONE = "nothing changed"
    ACCEPT = "may be accepted at the machine"
    REVIEW = "to be reviewed before the rest of the lot runs"


@dataclass(frozen=True)
class ReadBack:
    """changes: in the order of the program. looks: lines that say the same, written otherwise."""

    handling: Handling
    changes: tuple[LineChange, ...]
    looks: int

    @property
    def kinds(self) -> tuple[EditKind, ...]:
        """What was changed, each kind once, the ones that need a review first."""
        found = dict.fromkeys(change.kind for change in self.changes)
        return tuple(sorted(found, key=lambda kind: kind in AT_THE_MACHINE))


def read_back(copy: Program, returned: Program) -> ReadBack:
    """Class what was changed at the control. copy: the floor copy as it was put on the machine; returned: as read back.

    Both are read under the same control profile and with the same tool table.
    """
    texts: dict[str, Meaning] | None = {} if copy.control == returned.control else None
    said = meanings(copy, texts), meanings(returned, texts)
    lines, looks = line_changes(copy, returned, said)
    if not copy.unread and not returned.unread and same_work(copy, returned):
        lines = [change for change in lines if not reads_alike(change, *said)]
    found = [*lines, *_more(copy, returned, lines)]
    changes = tuple(sorted(set(found), key=_place))
    return ReadBack(_handling(changes), changes, looks)


def _more(copy: Program, returned: Program, lines: Iterable[LineChange]) -> Iterable[LineChange]:
    """What the words of the lines do not show: what they do to the motions, and what cannot be read any more."""
    kinds = frozenset(change.kind for change in lines)
    yield from effects(copy, returned, kinds)
    if EditKind.SKIP in kinds and not skips_leave_out_whole_cuts(returned):
        line = next(change.after[0] for change in lines if change.kind is EditKind.SKIP and change.after)
        yield LineChange(EditKind.GEOMETRY, (), (line,))
    known = Counter(entry.code for entry in copy.unread)
    for entry in returned.unread:
        known[entry.code] -= 1
        if known[entry.code] < 0:
            yield LineChange(EditKind.UNREAD, (), (entry.line,) if entry.line else ())


def _handling(changes: tuple[LineChange, ...]) -> Handling:
    if not changes:
        return Handling.NONE
    return Handling.ACCEPT if all(change.kind in AT_THE_MACHINE for change in changes) else Handling.REVIEW


def _place(change: LineChange) -> tuple[int, tuple[int, ...], str]:
    return (change.after or change.before or (0,))[0], change.before, change.kind.value
