import random
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopflow.people.models import User
from shopflow.records import ledger, proof, protect
from shopflow.records.models import ChainHead, LedgerRow

from .conftest import child, in_threads

pytestmark = [pytest.mark.both_databases, pytest.mark.django_db]
in_the_open = pytest.mark.django_db(transaction=True)


def count_up(lead: User, *, chain: str = "job:1", **given: object) -> LedgerRow:
    with transaction.atomic():
        return ledger.append("counted", chain=chain, subject=("job", 1), by=lead, **given)


def test_rows_of_a_chain_follow_each_other(lead):
    first, second = count_up(lead), count_up(lead)
    assert (first.seq, first.previous, second.seq, second.previous) == (1, "", 2, first.hash)


def test_each_chain_counts_by_itself(lead):
    count_up(lead)
    assert count_up(lead, chain="job:2").seq == 1


def test_the_head_is_the_last_row(lead):
    count_up(lead)
    row = count_up(lead)
    assert (ledger.head("job:1").seq, ledger.head("job:1").hash) == (2, row.hash)


def test_the_head_of_a_chain_without_rows_has_no_hash():
    assert (ledger.head("job:9").seq, ledger.head("job:9").hash) == (0, "")


def test_a_payload_comes_back_as_plain_values(lead):
    row = count_up(lead, diameter=Decimal("6.350"), good=3)
    assert LedgerRow.objects.get(pk=row.pk).data == {"diameter": "6.35", "good": 3}


def test_a_float_in_a_payload_is_refused(lead):
    with pytest.raises(TypeError, match="float"):
        count_up(lead, diameter=6.35)


def test_a_row_may_name_nobody():
    assert count_up(None).by_id is None


def test_rows_for_gives_the_rows_in_order(lead):
    rows = [count_up(lead) for _ in range(3)]
    assert list(ledger.rows_for("job:1")) == rows


@pytest.mark.parametrize("chain", ["", "Job:1", "job 1", "job:1:2", "job:x", "job:" + "1" * 20, "shop\n"])
def test_a_chain_without_a_proper_name_is_refused(lead, chain):
    with pytest.raises(ValueError, match="no name of a chain"):
        count_up(lead, chain=chain)


@pytest.mark.parametrize("key", ["x" * 101, ""])
def test_an_empty_key_and_one_too_long_to_be_kept_are_refused(lead, key):
    with pytest.raises(ValueError, match="1 to 100"):
        count_up(lead, key=key)


@in_the_open
def test_a_row_outside_a_transaction_is_refused(lead):
    with pytest.raises(ledger.NoTransaction):
        ledger.append("counted", chain="job:1", subject=("job", 1), by=lead)


@in_the_open
def test_a_row_goes_with_the_transaction_that_fails(lead):
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        count_up(lead)
        raise ZeroDivisionError
    assert not LedgerRow.objects.exists()
    assert count_up(lead).seq == 1


def test_the_same_report_twice_counts_once(lead):
    first = count_up(lead, key="report-1", good=5)
    again = count_up(lead, key="report-1", good=5)
    assert (again.pk, first.repeated, again.repeated, LedgerRow.objects.count()) == (first.pk, False, True, 1)


@pytest.mark.parametrize("change", ["payload", "person", "subject", "chain", "kind"])
def test_the_same_key_with_another_content_is_refused(lead, machinist, change):
    first = {"kind": "counted", "chain": "job:1", "subject": ("job", 1), "by": lead, "good": 5}
    other = {
        "payload": {"good": 6},
        "person": {"by": machinist},
        "subject": {"subject": ("job", 2)},
        "chain": {"chain": "job:2"},
        "kind": {"kind": "scrapped"},
    }[change]
    ledger.append(**first, key="report-1")
    with pytest.raises(ledger.KeyReused):
        ledger.append(**(first | other), key="report-1")


def test_a_row_refused_for_another_reason_is_not_blamed_on_its_key(lead):
    """A head that lies before the end of its chain: as after a restore that went wrong."""
    count_up(lead)
    ChainHead.objects.update(seq=0, hash="")
    with pytest.raises(IntegrityError), transaction.atomic():
        count_up(lead, key="report-1")


def test_a_key_that_came_into_another_chain_at_the_same_moment_is_refused_as_used(lead, monkeypatch):
    count_up(lead, key="report-1")
    monkeypatch.setattr(ledger, "find", lambda key: None)  # as it is read before the other transaction ends
    with pytest.raises(ledger.KeyReused, match="another chain"), transaction.atomic():
        ledger.append("counted", chain="job:2", subject=("job", 2), by=lead, key="report-1")


def test_a_report_is_found_by_its_key(lead):
    row = count_up(lead, key="report-1")
    assert (ledger.find("report-1"), ledger.find("report-2")) == (row, None)


@in_the_open
def test_one_report_sent_by_eight_at_once_counts_once(lead):
    in_threads(8, lambda number: count_up(lead, key="report-1", good=5))
    assert LedgerRow.objects.count() == 1


@in_the_open
def test_eight_threads_at_once_make_one_unbroken_chain(lead):
    in_threads(8, lambda number: [count_up(lead) for _ in range(20)])
    assert [row.seq for row in ledger.rows_for("job:1")] == list(range(1, 161))
    assert ledger.verify("job:1") == []


@in_the_open
def test_processes_at_once_make_one_unbroken_chain_and_count_shared_reports_once(lead):
    children = [child("append", "job:1", 10, lead.pk) for _ in range(4)]
    assert [process.wait() for process in children] == [0] * 4
    assert ledger.head("job:1").seq == 4 * 10 + 10
    assert ledger.verify("job:1") == []
    for process in children:
        process.stdout.close()


@in_the_open
def test_many_chains_at_once_stay_whole_and_the_shop_chain_with_them(lead):
    def report(number: int) -> None:
        for job in random.Random(number).sample(range(4), 4):
            with transaction.atomic():
                ledger.append("counted", chain=f"job:{job}", subject=("job", job), by=lead)
                ledger.append("shown", chain="shop", subject=("job", job), by=lead)

    in_threads(8, report)
    assert sum(ledger.head(chain).seq for chain in proof.chains()) == 64
    assert [flaw for chain in proof.chains() for flaw in ledger.verify(chain)] == []


payloads = st.dictionaries(
    st.text("abcdefg", min_size=1, max_size=3), st.integers() | st.text(max_size=20) | st.none(), max_size=4
)
numbers = iter(range(10**9))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(payloads, min_size=1, max_size=6))
def test_a_chain_of_any_content_verifies(lead, contents):
    chain = f"job:{next(numbers)}"
    for content in contents:
        ledger.append("noted", chain=chain, subject=("job", 1), by=lead, **content)
    assert ledger.verify(chain) == []


TAMPERED = {
    "kind": "closed",
    "payload": '{"good":500}',
    "subject_kind": "piece",
    "subject_id": 77,
    "by_id": None,
    "key": "another-key",
    "previous": "0" * 64,
    "hash": "0" * 64,
    "seq": 99,
}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(1, 5), st.data())
def test_any_column_changed_in_any_row_shows(lead, length, data):
    chain = f"job:{next(numbers)}"
    for number in range(length):
        ledger.append("counted", chain=chain, subject=("job", 1), by=lead, good=number)
    seq = data.draw(st.integers(1, length))
    column = data.draw(st.sampled_from(sorted(TAMPERED)))
    with protect.lifted():
        ledger.rows_for(chain).filter(seq=seq).update(**{column: _unique(column, TAMPERED[column], chain)})
    assert ledger.verify(chain) != []


def _unique(column, value, chain):
    return f"{value}-{chain}" if column == "key" else value


def test_a_row_moved_to_another_time_shows(lead):
    row = count_up(lead)
    with protect.lifted():
        LedgerRow.objects.update(at=row.at.replace(year=2001))
    assert "content was changed" in ledger.verify("job:1")[0].what


def test_a_row_taken_out_of_the_middle_shows(lead):
    for _ in range(3):
        count_up(lead)
    with protect.lifted():
        ledger.rows_for("job:1").filter(seq=2).delete()
    assert "rows 2 to 2 are missing" in ledger.verify("job:1")[0].what


def test_a_tail_cut_from_the_rows_alone_shows_against_the_head(lead):
    for _ in range(3):
        count_up(lead)
    with protect.lifted():
        ledger.rows_for("job:1").filter(seq=3).delete()
    assert "the head says 3" in ledger.verify("job:1")[0].what


def test_a_deleted_head_shows(lead):
    count_up(lead)
    ChainHead.objects.all().delete()
    assert proof.chains() == ["job:1"]
    assert ledger.verify("job:1") != []
