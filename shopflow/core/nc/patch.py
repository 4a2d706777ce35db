"""Changes of a program's text, line by line, that remember which line of the result was which before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from shopflow.core.nc.text import Source

INSERTED = 0
"""Stands in `origin` for a line that was not there before."""


@dataclass(frozen=True)
class Patch:
    """What to change. Lines count from 1; 0 in `after` is before the first.

    replaced: line to its new text. after: line to the lines put in behind it. removed: lines that go.
    """

    replaced: Mapping[int, str] = field(default_factory=dict)
    after: Mapping[int, Sequence[str]] = field(default_factory=dict)
    removed: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Patched:
    """The new bytes. origin: for each of their lines the line it was before, INSERTED for a new one."""

    data: bytes
    origin: tuple[int, ...]


def apply(patch: Patch, source: Source, *, line_end: str = "") -> Patched:
    """The text with the patch; untouched lines keep their bytes, and the file its line ends unless others are asked."""
    old_end = line_end_of(source.data)
    out: list[bytes] = []
    origin: list[int] = []
    for line in range(len(source) + 1):
        if line and line not in patch.removed:
            raw = source.data[source.starts[line - 1] : source.ends[line - 1]]
            out.append(patch.replaced[line].encode("ascii") if line in patch.replaced else raw)
            origin.append(line)
        for text in patch.after.get(line, ()):
            out.append(text.encode("ascii"))
            origin.append(INSERTED)
    ends_with_break = bool(line_end) or source.data.endswith((b"\n", b"\r"))
    separator = (line_end or old_end).encode()
    return Patched(separator.join(out) + (separator if ends_with_break else b""), tuple(origin))


def line_end_of(data: bytes) -> str:
    """The line end of the first line; a file without any gets the plain one."""
    feed = data.find(b"\n")
    if feed < 0:
        return "\r" if b"\r" in data else "\n"
    return "\r\n" if data[feed - 1 : feed] == b"\r" else "\n"
