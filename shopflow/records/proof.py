"""Does the ledger still say what it said? Chains checked in themselves, against each other, and against paper.

A chain proves itself only against clumsy changes: whoever owns the database can rewrite a chain from some row on, head
included. That shows against heads kept elsewhere: in the shop's chain (nightly), in backups, on printed papers.
"""

from __future__ import annotations

import re
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


def verify(chain: str) -> list[Flaw]:
    """What is wrong within one chain, its head included; empty when it holds."""
    return list(_flaws(chain))


def _flaws(chain: str) -> Iterator[Flaw]:
    seq, previous = 0, ""
    for row in LedgerRow.objects.filter(chain=chain).order_by("seq").iterator():
        if row.seq != seq + 1:
            yield Flaw(chain, row.seq, f"rows {seq + 1} to {row.seq - 1} are missing")
        elif row.previous != previous:
            yield Flaw(chain, row.seq, "it does not follow from the row before it")
        if row.hash != row.computed_hash():
            yield Flaw(chain, row.seq, "its content was changed: it does not give its hash")
        seq, previous = row.seq, row.hash
    head = ChainHead.objects.filter(pk=chain).first() or ChainHead(chain=chain)
    if (head.seq, head.hash) != (seq, previous):
        yield Flaw(chain, head.seq, f"the head says {head.seq} rows, the chain ends at {seq} or with another hash")


def verify_nightly_heads() -> list[Flaw]:
    """Where a chain no longer says what the shop's chain noted of it at night."""
    nights = LedgerRow.objects.filter(chain="shop", kind="chain_heads").order_by("seq")
    return against(Head(*noted) for night in nights.iterator() for noted in night.data["heads"])


def against(noted: Iterable[Head]) -> list[Flaw]:
    """Where the ledger disagrees with heads noted elsewhere."""
    return [flaw for head in noted if (flaw := _disagreement(head))]


def _disagreement(noted: Head) -> Flaw | None:
    row = LedgerRow.objects.filter(chain=noted.chain, seq=noted.seq).first()
    if row is None:
        return Flaw(noted.chain, noted.seq, "this row was noted and is gone: the end of the chain was cut off")
    if not row.hash.startswith(noted.hash):
        return Flaw(noted.chain, noted.seq, "this row was noted with another hash: the chain was rewritten")
    return None


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
