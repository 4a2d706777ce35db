"""Where each tool of a floor copy may start again, as the setup page prints it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.core.nc.restart import Restart
from shopflow.floor.models import FloorCopy
from shopflow.jobs.models import Setup
from shopflow.programs import queries as programs
from shopflow.records import files

COLUMNS = (
    ("work offset",),
    ("units", "plane", "distance", "feed mode"),
    ("length offset",),
    ("spindle",),
    ("coolant",),
)
"""What must hold at a restart, by the columns of the printed table; names as core.nc.restart gives them."""


@dataclass(frozen=True)
class Word:
    """One word that must hold. by_hand: no line between the restart and the first cut says it."""

    text: str
    by_hand: bool


@dataclass(frozen=True)
class Row:
    """line, prove_out_line: of the two floor copies; None without the second. columns: the words of each of COLUMNS."""

    tool: int
    line: int
    prove_out_line: int | None
    text: str
    columns: list[list[Word]]


def rows_for(setup: Setup, copy: FloorCopy | None, prove_out: FloorCopy | None) -> list[Row]:
    """The restarts of one setup, in the order of its program; none where lines of it run more than once."""
    if copy is None:
        return []
    places = _of_setup(setup, copy, restarts_of(copy))
    others = [place.line for place in _of_setup(setup, prove_out, restarts_of(prove_out))] if prove_out else []
    lines = others if len(others) == len(places) else [None] * len(places)
    return [_row(place, line) for place, line in zip(places, lines, strict=True)]


def restarts_of(copy: FloorCopy) -> tuple[Restart, ...]:
    """Read from the copy's own bytes: header and stops have moved the lines of what was signed."""
    return programs.restarts_in(copy.revision, files.content(copy.stored))


def _of_setup(setup: Setup, copy: FloorCopy, places: Sequence[Restart]) -> list[Restart]:
    """Those of the setup's work offset, where one program serves several setups and each has its own."""
    offsets = [other.work_offset_code for other in copy.revision.program.setups.all()]
    if len(set(offsets)) < len(offsets) or len(offsets) == 1:
        return list(places)
    return [place for place in places if dict(place.holds)["work offset"] == setup.work_offset_code]


def _row(place: Restart, prove_out_line: int | None) -> Row:
    holds, by_hand = dict(place.holds), {name for name, _ in place.must_set}
    columns = [[Word(holds[name], name in by_hand) for name in names if holds[name]] for names in COLUMNS]
    return Row(place.tool, place.line, prove_out_line, place.text, columns)
