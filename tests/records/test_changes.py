"""The change counter: a screen that asks now and then misses nothing, whatever writes at the same time."""

import random
import threading
import time

import pytest
from django.db import connection, connections, transaction

from shopflow.records import changes, ledger
from shopflow.records.models import ChainHead, LedgerRow

from .conftest import in_threads

pytestmark = pytest.mark.django_db(transaction=True)
both = pytest.mark.both_databases


def note(chain: str) -> LedgerRow:
    with transaction.atomic():
        return ledger.append("noted", chain=chain, subject=("job", 1), by=None)


def settled() -> int:
    """The counter once every older transaction on the server is over, those of tests in other processes too."""
    given_up = time.monotonic() + 120
    while (now := ledger.counter()) < max(ChainHead.objects.values_list("changed", flat=True)):
        assert time.monotonic() < given_up
        time.sleep(0.005)
    return now


@both
def test_nothing_has_changed_in_an_empty_shop():
    assert ledger.changed_chains_since(ledger.counter()) == set()


@both
def test_a_chain_is_named_after_each_change_and_not_again():
    before = ledger.counter()
    note("job:1")
    between = settled()
    note("job:2")
    assert ledger.changed_chains_since(before) == {"job:1", "job:2"}
    assert ledger.changed_chains_since(between) == {"job:2"}
    assert ledger.changed_chains_since(settled()) == set()


@both
def test_a_change_that_was_rolled_back_is_named_by_nobody():
    before = ledger.counter()
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        note("job:1")
        raise ZeroDivisionError
    assert ledger.changed_chains_since(before) == set()


@both
def test_a_number_from_another_life_of_the_database_names_every_chain():
    note("job:1")
    assert ledger.changed_chains_since(ledger.counter() + 10**9) == {"job:1"}


@both
def test_the_counter_is_one_read_of_an_index():
    sql, explain = {
        "sqlite": (changes.SQLITE_COUNTER, "EXPLAIN QUERY PLAN "),
        "postgresql": (changes.POSTGRESQL_COUNTER, "EXPLAIN "),
    }[connection.vendor]
    with transaction.atomic(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL enable_seqscan = off")  # it would rather read a table of no rows whole
        cursor.execute(explain + sql)
        plan = str(cursor.fetchall())
    assert "INDEX records_chainhead_changed" in plan or "using records_chainhead_changed" in plan


class Watcher(threading.Thread):
    """A screen: it remembers a number, asks what changed since, and looks at those chains only."""

    def __init__(self) -> None:
        super().__init__()
        self.known, self.seen, self.ended = -1, {}, threading.Event()

    def look(self) -> None:
        now = ledger.counter()
        changed = ledger.changed_chains_since(self.known)
        self.seen |= dict(ChainHead.objects.filter(pk__in=changed).values_list("chain", "seq"))
        self.known = now

    def run(self) -> None:
        while not self.ended.is_set():
            self.look()
        connections.close_all()


@both
def test_a_screen_that_watches_busy_writers_ends_with_every_change_seen():
    watcher = Watcher()
    watcher.start()

    def write(number: int) -> None:
        dice = random.Random(number)
        for _ in range(30):
            with transaction.atomic():
                ledger.append("noted", chain=f"job:{dice.randrange(20)}", subject=("job", 1), by=None)
                time.sleep(dice.random() * 0.004)

    in_threads(6, write)
    watcher.ended.set()
    watcher.join()
    watcher.look()
    assert watcher.seen == dict(ChainHead.objects.values_list("chain", "seq"))


@pytest.mark.postgres
def test_a_change_that_began_early_and_commits_late_is_not_missed():
    begun, may_commit = threading.Event(), threading.Event()

    def late() -> None:
        with transaction.atomic():
            ledger.append("noted", chain="job:1", subject=("job", 1), by=None)
            begun.set()
            may_commit.wait()
        connections.close_all()

    slow = threading.Thread(target=late)
    slow.start()
    begun.wait()
    note("job:2")
    told = ledger.counter()
    at_once = ledger.changed_chains_since(0)
    may_commit.set()
    slow.join()
    assert at_once == {"job:2"}
    assert ledger.changed_chains_since(told) == {"job:1", "job:2"}
    assert ChainHead.objects.get(pk="job:1").changed < ChainHead.objects.get(pk="job:2").changed


@pytest.mark.postgres
def test_after_a_restore_into_a_younger_server_new_changes_are_seen_again():
    note("job:1")
    ChainHead.objects.update(changed=10**15)
    ledger.mend_after_restore()
    before = ledger.counter()
    note("job:2")
    assert "job:2" in ledger.changed_chains_since(before)


@pytest.mark.postgres
def test_after_a_restore_into_a_younger_server_every_head_is_noted_at_once():
    note("job:1")
    ChainHead.objects.update(changed=10**15)
    ledger.mend_after_restore()
    assert [h[0] for h in ledger.rows_for("shop").get().data["heads"]] == ["job:1"]


@both
def test_each_night_notes_the_heads_that_moved_and_no_others():
    note("job:1")
    settled()
    ledger.chain_heads()
    row = note("job:2")
    (night,) = ledger.chain_heads()
    assert night.data["heads"] == [["job:2", 1, row.hash]]


@both
def test_a_night_without_changes_adds_nothing():
    note("job:1")
    settled()
    ledger.chain_heads()
    assert ledger.chain_heads() == []


@both
def test_many_heads_are_noted_in_several_rows(monkeypatch):
    monkeypatch.setattr(ledger, "HEADS_A_ROW", 2)
    for number in range(5):
        note(f"job:{number}")
    assert [len(night.data["heads"]) for night in ledger.chain_heads()] == [2, 2, 1]
