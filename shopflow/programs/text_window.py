"""A window of a long program's text, with what the review noticed in its margin."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shopflow.core.errors import CoreError
from shopflow.core.nc.text import Source
from shopflow.programs import queries
from shopflow.programs.queries import Found, Reviewed

LINES = 300
LONGEST = 400
"""Letters of a line that are shown; a longer one says so."""
_TOOL_CHANGE = re.compile(r"M\s*0*6(?![0-9])", re.IGNORECASE)
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


def window(seen: Reviewed, now: int) -> Window:
    """300 lines around a line, from the first where it is 0; withdrawn bytes give an empty window that says so."""
    try:
        source = queries.source(seen.revision)
    except CoreError as gone:
        return Window((), 0, 0, 0, 0, 0, str(gone))
    total = len(source)
    now = min(now, total)
    around = max(now, 1)
    first = max(1, min(around - LINES // 2, total - LINES + 1))
    last = min(total, first + LINES - 1)
    return Window(
        lines=_lines(seen, source, first, last, now),
        first=first,
        last=last,
        total=total,
        before=max(1, first - LINES // 2) if first > 1 else 0,
        after=min(total, last + LINES // 2) if last < total else 0,
    )


def _lines(seen: Reviewed, source: Source, first: int, last: int, now: int) -> tuple[Line, ...]:
    begun: dict[int, list[Found]] = {}
    for finding in seen.findings:
        begun.setdefault(finding.first_line, []).append(finding)
    stops = {stop["line"] for stop in (seen.reading or {}).get("stops", ())}
    return tuple(
        _line(number, source.line(number - 1), begun.get(number, []), number in stops, number == now)
        for number in range(first, last + 1)
    )


def _line(number: int, text: str, found: list[Found], is_stop: bool, is_now: bool) -> Line:
    heaviest = max(found, key=lambda finding: finding.weight.rank, default=None)
    pieces = _pieces(text[:LONGEST])
    return Line(
        number=number,
        pieces=pieces,
        is_cut=len(text) > LONGEST,
        kind="stop" if is_stop else _kind(pieces),
        is_now=is_now,
        found=heaviest,
        more=max(0, len(found) - 1),
    )


def _kind(pieces: tuple[tuple[bool, str], ...]) -> str:
    """ "tool" where the line changes the tool."""
    return "tool" if any(_TOOL_CHANGE.search(text) for is_comment, text in pieces if not is_comment) else ""


def _pieces(text: str) -> tuple[tuple[bool, str], ...]:
    pieces, at = [], 0
    for comment in _PIECES.finditer(text):
        pieces += [(False, text[at : comment.start()]), (True, comment.group())]
        at = comment.end()
    return tuple(piece for piece in [*pieces, (False, text[at:])] if piece[1])
