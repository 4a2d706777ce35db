"""The ledger: everything that happened, one chain for each job and one for the shop, each row hashed with the last.

Rows name people by id and carry no text that may have to be erased: names, notes and reasons stay in the app's rows.
An action that appends to several chains takes the job's chain first and the shop's last, so that two never wait for
each other.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from django.db import IntegrityError, connection, transaction
from django.db.models import QuerySet
from django.utils import timezone

from shopflow.records.canonical import canonical
from shopflow.records.changes import are_from_another_life, changed_chains_since, counter, stamp
from shopflow.records.models import ChainHead, LedgerRow
from shopflow.records.proof import verify

if TYPE_CHECKING:
    from django.contrib.auth.models import AbstractBaseUser

__all__ = [
    "SHOP", "KeyReused", "NoTransaction", "append", "chain_heads", "changed_chains_since", "counter", "find", "head",
    "lock", "mend_after_restore", "rows_for", "verify",
]  # fmt: skip

SHOP = "shop"
CHAIN_NAME = re.compile(r"[a-z][a-z_]{0,19}(:[0-9]{1,19})?")
KIND = re.compile(r"[a-z][a-z0-9_]{0,59}")
HEADS_A_ROW = 500


class NoTransaction(RuntimeError):
    """A ledger row outside a transaction could stay without the change it tells of, or the change without its row."""


class KeyReused(ValueError):
    """A report came with the key of an earlier one that says something else."""


def append(
    kind: str,
    *,
    chain: str,
    subject: tuple[str, int],
    by: AbstractBaseUser | None,
    key: str | None = None,
    **payload: Any,
) -> LedgerRow:
    """Add one row to a chain, inside the caller's transaction; nobody else appends to the chain until that ends.

    key: the sender's own name for this report. Sent again with the same content, the earlier row comes back with
    `repeated` set, and the caller then changes nothing; with other content KeyReused is raised.
    payload: values that records.canonical takes.
    """
    _refuse_bad_names(kind, chain, key)
    row = LedgerRow(
        chain=chain,
        kind=kind,
        at=timezone.now(),
        by_id=None if by is None else by.pk,
        subject_kind=subject[0],
        subject_id=subject[1],
        payload=canonical(payload),
        key=key,
    )
    before = lock(chain)
    earlier = find(key) if key is not None else None
    return _repeat(earlier, row) if earlier else _add(row, before)


def _add(row: LedgerRow, before: ChainHead) -> LedgerRow:
    row.seq, row.previous = before.seq + 1, before.hash
    row.hash = row.computed_hash()
    try:
        row.save(force_insert=True)
    except IntegrityError as error:
        if row.key is None or not _is_about_the_key(error):
            raise
        # The lock covers one chain: only the same key in two chains at the same moment gets this far.
        raise KeyReused(f"the key {row.key!r} was used in another chain at the same moment") from error
    ChainHead.objects.filter(pk=row.chain).update(seq=row.seq, hash=row.hash, changed=stamp())
    return row


def _is_about_the_key(error: IntegrityError) -> bool:
    """Whether the key was there already, by what the database says: another constraint is no fault of the sender's."""
    diagnosis = getattr(error.__cause__, "diag", None)
    column = LedgerRow._meta.get_field("key").column
    if diagnosis is None:  # SQLite names the columns in the sentence
        return str(error).endswith(f"{LedgerRow._meta.db_table}.{column}")
    return f"({column})" in str(diagnosis.message_detail)


def _repeat(earlier: LedgerRow, row: LedgerRow) -> LedgerRow:
    said = [(r.chain, r.kind, r.by_id, r.subject, r.payload) for r in (earlier, row)]
    if said[0] != said[1]:
        raise KeyReused(f"the key {row.key!r} came before with another content, as row {earlier}")
    earlier.repeated = True
    return earlier


def lock(chain: str) -> ChainHead:
    """Hold a chain until the transaction ends: for an action that reads first and appends what it decided."""
    if not connection.in_atomic_block:
        raise NoTransaction(f"open a transaction before writing to the chain {chain!r}")
    head_row = ChainHead.objects.select_for_update().filter(pk=chain).first()
    if head_row is None:
        ChainHead.objects.bulk_create([ChainHead(chain=chain)], ignore_conflicts=True)
        head_row = ChainHead.objects.select_for_update().get(pk=chain)
    return head_row


def find(key: str) -> LedgerRow | None:
    """The row that a report with this key made; ask it under `lock` before checks that the first report outdated."""
    return LedgerRow.objects.filter(key=key).first()


def rows_for(chain: str) -> QuerySet[LedgerRow]:
    """The rows of a chain in order."""
    return LedgerRow.objects.filter(chain=chain).order_by("seq")


def head(chain: str) -> ChainHead:
    """The last place of a chain, to be printed on papers; seq 0 and no hash where nothing has happened yet."""
    return ChainHead.objects.filter(pk=chain).first() or ChainHead(chain=chain)


@transaction.atomic
def chain_heads(*, everything: bool = False) -> list[LedgerRow]:
    """Chain the heads of the chains that changed since the last time into the shop's chain; run each night."""
    lock(SHOP)
    last = LedgerRow.objects.filter(chain=SHOP, kind="chain_heads").order_by("-seq").first()
    now = counter()
    changed = changed_chains_since(last.data["counter"] if last and not everything else -1) - {SHOP}
    heads = sorted((h.chain, h.seq, h.hash) for h in ChainHead.objects.filter(pk__in=changed, seq__gt=0))
    parts = [heads[start : start + HEADS_A_ROW] for start in range(0, len(heads), HEADS_A_ROW)]
    return [append("chain_heads", chain=SHOP, subject=("shop", 0), by=None, counter=now, heads=part) for part in parts]


@transaction.atomic
def mend_after_restore() -> None:
    """Begin to count anew where a dump brought stamps along that this database has not reached; run after migrating."""
    if are_from_another_life():
        ChainHead.objects.update(changed=0)
        chain_heads(everything=True)


def _refuse_bad_names(kind: str, chain: str, key: str | None) -> None:
    if not CHAIN_NAME.fullmatch(chain):
        raise ValueError(f"{chain!r} is no name of a chain; use one like shop or job:17")
    if not KIND.fullmatch(kind):
        raise ValueError(f"{kind!r} is no kind of ledger row; use one like signed_off")
    if key is not None and not 1 <= len(key) <= 100:
        raise ValueError("a report's key has 1 to 100 characters")
