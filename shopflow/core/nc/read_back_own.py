"""A read-back as the next revision of its program: without the header and the stops that the floor copy had put in."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.core.nc.differences import Meaning, aligned, meanings
from shopflow.core.nc.patch import Patch, apply
from shopflow.core.nc.program import Program
from shopflow.core.nc.read_back_effect import same_motions
from shopflow.core.nc.read_back_lines import unchanged
from shopflow.core.nc.run import read


def without_ours(revision: Program, copy: Program, returned: Program) -> bytes:
    """The bytes of `returned` less what `copy` had put into `revision` and still stands as it was put in.

    A stop of ours that was changed at the control stays whole. What is left moves exactly as `returned` does, found by
    reading it again; where it would not, only the comments go.
    """
    added = _added(revision, copy)
    comments = frozenset(_comments_of(copy, added, returned))
    stops = frozenset(_stops_of(copy, added, returned))
    for removed in (comments | stops, comments):
        data = apply(Patch(removed=removed), returned.source).data
        if same_motions(returned, read(data, control=returned.control, tools=returned.tools_known)):
            return data
    return returned.source.data


def _added(revision: Program, copy: Program) -> list[int]:
    """Lines of the copy that were put in."""
    old, new = _texts(revision), _texts(copy)
    return [line + 1 for a, b, c, d, same in aligned(old, new) if not same and a == b for line in range(c, d)]


def _texts(program: Program) -> list[Meaning]:
    return [(("text", program.text(line).strip()),) for line in range(1, program.lines + 1)]


def _bare(text: str) -> str:
    return "".join(text.upper().split()).lstrip("N0123456789")


def _comments_of(copy: Program, added: list[int], returned: Program) -> Iterator[int]:
    ours = {_bare(copy.text(line)) for line in added if "(" in copy.text(line) or ";" in copy.text(line)}
    for line, said in enumerate(meanings(returned), 1):
        if not said and _bare(returned.text(line)) in ours:
            yield line


def _stops_of(copy: Program, added: list[int], returned: Program) -> Iterator[int]:
    """Lines of stops that stand whole; a stop is what was put in without a line of the program between."""
    stand, spoken = unchanged(copy, returned), meanings(copy)
    block: list[int] = []
    for line in [*added, 0]:
        if block and line != block[-1] + 1:
            words = [one for one in block if spoken[one - 1]]
            if all(one in stand for one in words):
                yield from (stand[one] for one in words)
            block = []
        block.append(line)
