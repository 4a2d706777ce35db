"""What was changed at the control, as plain values that are kept: small programs at once, long ones by a worker."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from shopflow.core import nc
from shopflow.programs import typed
from shopflow.programs.comparing import ReadAs
from shopflow.records import files, work
from shopflow.records.models import Work

COMPARE = "compare_read_back"
VERSION = "1"
AT_ONCE_BYTES = 500_000
"""Longer ones take seconds (300,000 lines: ten and more), which nobody waits for in a request."""
MOST_KEPT = 200
"""Changes kept line by line; the rest is counted."""

Progress = Callable[[float, str], None]


def compare(
    returned: bytes, copies: Sequence[bytes], read_as: ReadAs, progress: Progress, others: Sequence[bytes] = ()
) -> dict[str, Any]:
    """Compared with each copy until one shows no change; the one that differs less counts, the earlier one of equals.

    others: floor copies of other ops, looked at where it is none of its own op's. Gives `copy` (its place in the list),
    `other` (the place in `others` of one that it is, with small changes at most, else None), `handling` (of
    nc.Handling), `changes`, `counts` and `looks` as floor.models.ReadBack keeps them.
    """
    progress(5, "Reading what came back")
    came = read_as.read(returned)
    found: list[tuple[int, nc.Program, nc.ReadBack]] = []
    for number, copy in enumerate(copies):
        progress(20 + 60 * number / len(copies), "Comparing with the floor copy")
        sent = read_as.read(copy)
        found.append((number, sent, nc.read_back(sent, came)))
        if found[-1][2].handling is nc.Handling.NONE:
            break
    ranks = list(nc.Handling)
    number, sent, nearest = min(found, key=lambda one: (ranks.index(one[2].handling), len(one[2].changes)))
    progress(85, "Comparing with the programs of other ops")
    is_own = nearest.handling is not nc.Handling.REVIEW
    return {
        "copy": number,
        "other": None if is_own else _other(came, others, read_as),
        "handling": nearest.handling.name.lower(),
        "changes": [_change(change, sent, came) for change in nearest.changes[:MOST_KEPT]],
        "counts": _counts(nearest),
        "looks": nearest.looks,
    }


def _other(came: nc.Program, others: Sequence[bytes], read_as: ReadAs) -> int | None:
    """Which op's program it is instead, were it read as the same control reads it."""
    for number, copy in enumerate(others):
        if nc.read_back(read_as.read(copy), came).handling is not nc.Handling.REVIEW:
            return number
    return None


def _change(change: Any, sent: nc.Program, came: nc.Program) -> dict[str, Any]:
    return {
        "kind": change.kind.value,
        "before": [[line, sent.text(line)[:300]] for line in change.before],
        "after": [[line, came.text(line)[:300]] for line in change.after],
    }


def _counts(found: nc.ReadBack) -> dict[str, int]:
    """How many changes of each kind, those that need a review first."""
    count = Counter(change.kind for change in found.changes)
    return {kind.value: count[kind] for kind in found.kinds}


def ask(
    returned: str, copies: Sequence[str], read_as: ReadAs, *, subject: tuple[str, int], others: Sequence[str] = ()
) -> Work:
    """The comparison as a piece of long work. returned, copies, others: SHA-256 of the bytes."""
    inputs = {
        "returned": returned, "copies": list(copies), "others": list(others), "read_as": typed.plain(read_as),
    }  # fmt: skip
    return work.ask(COMPARE, inputs, version=VERSION, subject=subject)


def run(row: Work, progress: work.Progress) -> dict[str, Any]:
    """Compare what a piece of work names; writes no rows."""
    read_as = typed.load(ReadAs, row.data["read_as"])
    copies, others = ([_bytes(one) for one in row.data.get(name, ())] for name in ("copies", "others"))
    return compare(_bytes(row.data["returned"]), copies, read_as, progress, others)


def _bytes(sha256: str) -> bytes:
    return files.content_of(sha256)
