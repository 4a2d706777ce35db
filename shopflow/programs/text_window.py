"""A window of a long program's text, with what the review noticed in its margin."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shopflow.core.errors import CoreError
from shopflow.core.nc.text import Source
from shopflow.programs import queries
from shopflow.programs.models import ProgramRevision
from shopflow.programs.queries import RANK, Found

LINES = 300
LONGEST = 400
"""Letters of a line that are shown; a longer one says so."""
_PIECES = re.compile(r"\([^)]*\)?|;.*")


@dataclass(frozen=True)
class Line:
    """pieces: (whether it is a comment, text). found: the heaviest finding that begins here, more: how many others."""

    number: int
    pieces: tuple[tuple[bool, str], ...]
    is_cut: bool
    kind: str
    is_now: bool
    found: Found | None
    more: int


@dataclass(frozen=True)
class Window:
    """first, last: lines shown, from 1. before, after: a line to ask for to see the neighbouring window, 0 for none."""

    lines: tuple[Line, ...]
    first: int
    last: int
    total: int
    before: int
    after: int
    gone: str = ""


def window(revision: ProgramRevision, around: int) -> Window:
    """300 lines around a line; a file whose bytes were withdrawn gives an empty window that says so."""
    try:
        source = queries.source(revision)
    except CoreError as gone:
        return Window((), 0, 0, 0, 0, 0, str(gone))
    total = len(source)
    around = min(max(around, 1), total)
    first = max(1, min(around - LINES // 2, total - LINES + 1))
    last = min(total, first + LINES - 1)
    return Window(
        lines=_lines(revision, source, first, last, around),
        first=first,
        last=last,
        total=total,
        before=max(1, first - LINES // 2) if first > 1 else 0,
        after=min(total, last + LINES // 2) if last < total else 0,
    )


def _lines(revision: ProgramRevision, source: Source, first: int, last: int, around: int) -> tuple[Line, ...]:
    begun: dict[int, list[Found]] = {}
    for finding in queries.findings(revision):
        begun.setdefault(finding.first_line, []).append(finding)
    kinds = _kinds(queries.reading(revision))
    return tuple(
        _line(number, source.line(number - 1), begun.get(number, []), kinds.get(number, ""), number == around)
        for number in range(first, last + 1)
    )


def _line(number: int, text: str, found: list[Found], kind: str, is_now: bool) -> Line:
    heaviest = max(found, key=lambda finding: RANK[finding.weight], default=None)
    return Line(
        number=number,
        pieces=_pieces(text[:LONGEST]),
        is_cut=len(text) > LONGEST,
        kind=kind,
        is_now=is_now,
        found=heaviest,
        more=max(0, len(found) - 1),
    )


def _pieces(text: str) -> tuple[tuple[bool, str], ...]:
    pieces, at = [], 0
    for comment in _PIECES.finditer(text):
        pieces += [(False, text[at : comment.start()]), (True, comment.group())]
        at = comment.end()
    return tuple(piece for piece in [*pieces, (False, text[at:])] if piece[1])


def _kinds(reading: dict[str, object] | None) -> dict[int, str]:
    """Lines that deserve a mark of their own: stops, and where a tool begins."""
    if reading is None:
        return {}
    kinds = {section["first_line"]: "tool" for section in reading["sections"]}  # type: ignore[attr-defined]
    return kinds | {stop["line"]: "stop" for stop in reading["stops"]}  # type: ignore[attr-defined]
