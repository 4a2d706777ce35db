"""Does the ledger still say what it said? Chains checked in themselves, against each other, and against paper.

A chain proves itself only against clumsy changes: whoever owns the database can rewrite a chain from some row on, head
included. That shows against heads kept elsewhere: in the shop's chain (nightly), in backups, on printed papers.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from shopflow.core.errors import Unreadable
from shopflow.records.models import ChainHead, LedgerRow

SHORTEST_HASH = 16
LINE = re.compile(r"(?P<chain>[a-z_]+(:[0-9]+)?) (?P<seq>[0-9]{1,18}) (?P<hash>[0-9a-f]{16,64})")


class Flaw(NamedTuple):
    """One thing that does not agree."""

    chain: str
    seq: int
    what: str

    def __str__(self) -> str:
        return f"{self.chain} {self.seq}: {self.what}"


class Head(NamedTuple):
    """A place in a chain as somebody noted it; the hash may be cut to its first 16 digits or more."""

    chain: str
    seq: int
    hash: str

    def __str__(self) -> str:
        return f"{self.chain} {self.seq} {self.hash}"


def chains() -> list[str]:
    """Every chain that has a head or a row."""
    heads = ChainHead.objects.values_list("chain", flat=True)
    return sorted({*heads, *LedgerRow.objects.order_by().values_list("chain", flat=True).distinct()})


def verify_all(noted: Iterable[Head] = ()) -> Iterator[Flaw]:
    """What is wrong anywhere: within each chain, against the heads noted at night, and against these."""
    expected: dict[str, list[Head]] = defaultdict(list)
    for head in (*heads_noted_at_night(), *noted):
        expected[head.chain].append(head)
    for chain in sorted({*chains(), *expected}):
        yield from verify(chain, expected[chain])


def heads_noted_at_night() -> Iterator[Head]:
    """The heads that the shop's chain holds of the others."""
    nights = LedgerRow.objects.filter(chain="shop", kind="chain_heads").order_by("seq")
    return (Head(*noted) for night in nights.iterator() for noted in night.data["heads"])


def verify(chain: str, noted: Iterable[Head] = ()) -> list[Flaw]:
    """What is wrong within one chain, its head included, and against heads of it noted elsewhere."""
    expected: dict[int, set[str]] = defaultdict(set)
    for head in noted:
        expected[head.seq].add(head.hash)
    seq, previous = 0, ""
    flaws: list[Flaw] = []
    for row in LedgerRow.objects.filter(chain=chain).order_by("seq").iterator():
        flaws += _flaws_of_row(row, seq, previous, expected.pop(row.seq, set()))
        seq, previous = row.seq, row.hash
    flaws += [Flaw(chain, gone, "this row was noted and is gone: the chain was cut") for gone in sorted(expected)]
    end = ChainHead.objects.filter(pk=chain).first() or ChainHead(chain=chain)
    if (end.seq, end.hash) != (seq, previous):
        what = f"the head says {end.seq} rows, the chain ends at {seq} or with another hash"
        flaws.append(Flaw(chain, end.seq, what))
    return flaws


def _flaws_of_row(row: LedgerRow, seq: int, previous: str, noted: set[str]) -> Iterator[Flaw]:
    """seq, previous: place and hash of the row before it."""
    if row.seq != seq + 1:
        yield Flaw(row.chain, row.seq, f"rows {seq + 1} to {row.seq - 1} are missing")
    elif row.previous != previous:
        yield Flaw(row.chain, row.seq, "it does not follow from the row before it")
    if row.hash != row.computed_hash():
        yield Flaw(row.chain, row.seq, "its content was changed: it does not give its hash")
    if not all(row.hash.startswith(hash_) for hash_ in noted):
        yield Flaw(row.chain, row.seq, "this row was noted with another hash: the chain was rewritten")


def read_heads(text: str) -> list[Head]:
    """Heads from lines of `chain seq hash`; empty lines and those that begin with # say nothing."""
    return [_read_line(number, line) for number, line in enumerate(text.splitlines(), 1) if _says_something(line)]


def _says_something(line: str) -> bool:
    return bool(line.strip()) and not line.startswith("#")


def _read_line(number: int, line: str) -> Head:
    found = LINE.fullmatch(" ".join(line.lower().split()))
    if found is None:
        raise Unreadable(
            "This line is no head of a chain.",
            where=f"line {number}",
            mend=f"Write the chain, the row's number and {SHORTEST_HASH} or more digits of the hash, a space between.",
        )
    return Head(found["chain"], int(found["seq"]), found["hash"])


def heads_text() -> str:
    """All heads as lines of `chain seq hash`, as backups keep them and `verify_records --against` reads them."""
    return "".join(f"{head}\n" for head in ChainHead.objects.filter(seq__gt=0).order_by("chain"))
