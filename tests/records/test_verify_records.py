"""The ledger against paper: what a forger with the whole database in hand cannot hide."""

import json

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from shopflow.core.errors import Unreadable
from shopflow.records import files, ledger, proof, protect
from shopflow.records.models import ChainHead, LedgerRow

pytestmark = [pytest.mark.both_databases, pytest.mark.django_db]


def note(chain="job:1", **payload):
    with transaction.atomic():
        return ledger.append("counted", chain=chain, subject=("job", 1), by=None, **payload)


def forge(chain, kept, *contents):
    """Rewrite a chain from a row on, head included, as somebody who owns the database can: each hash is right again."""
    with protect.lifted():
        ledger.rows_for(chain).filter(seq__gt=kept).delete()
        last = ledger.rows_for(chain).last()
        ChainHead.objects.filter(pk=chain).update(seq=kept, hash=last.hash if last else "")
    for content in contents:
        note(chain, **content)


@pytest.fixture
def printed(capsys):
    for good in range(3):
        note(good=good)
    call_command("verify_records", "--heads")
    return capsys.readouterr().out


@pytest.fixture
def paper(tmp_path, printed):
    path = tmp_path / "heads.txt"
    path.write_text(f"# printed on a traveler\n\n{printed}")
    return path


def verify(capsys, *options):
    """Exit status and the JSON of the command."""
    status = 0
    try:
        call_command("verify_records", "--json", *map(str, options))
    except SystemExit as ended:
        status = ended.code
    return status, json.loads(capsys.readouterr().out)


def test_an_honest_ledger_agrees_with_paper(paper, capsys):
    note(good=9)
    status, found = verify(capsys, "--against", paper)
    assert (status, found["flaws"], found["compared"], found["rows"], found["chains"]) == (0, [], 1, 4, 1)


def test_a_cut_tail_with_its_head_put_right_shows_against_paper_only(paper, capsys):
    forge("job:1", 2)
    assert verify(capsys)[0] == 0
    status, found = verify(capsys, "--against", paper)
    assert status == 1
    assert found["flaws"] == ["job:1 3: this row was noted and is gone: the chain was cut"]


def test_a_rewritten_chain_shows_against_paper_only(paper, capsys):
    forge("job:1", 1, {"good": 100}, {"good": 2})
    assert verify(capsys)[0] == 0
    status, found = verify(capsys, "--against", paper)
    assert status == 1
    assert found["flaws"] == ["job:1 3: this row was noted with another hash: the chain was rewritten"]


def test_a_chain_rewritten_after_a_night_shows_without_paper(printed, capsys):
    ledger.chain_heads()
    forge("job:1", 1, {"good": 100}, {"good": 2})
    status, found = verify(capsys)
    assert (status, found["flaws"]) == (1, ["job:1 3: this row was noted with another hash: the chain was rewritten"])


def test_a_chain_that_is_gone_altogether_shows_against_paper(paper, capsys):
    forge("job:1", 0)
    ChainHead.objects.all().delete()
    status, found = verify(capsys, "--against", paper)
    assert (status, found["flaws"]) == (1, ["job:1 3: this row was noted and is gone: the chain was cut"])


def test_a_shortened_hash_on_paper_is_compared_as_far_as_it_goes(printed):
    chain, seq, hash_ = printed.split()
    assert proof.verify(chain, proof.read_heads(f"{chain} {seq} {hash_[:16]}")) == []
    assert proof.verify(chain, proof.read_heads(f"{chain} {seq} {'0' * 16}")) != []


@pytest.mark.parametrize("line", ["job:1 3", "job:1 three 0123456789abcdef", "job:1 3 0123456789abcde", "nonsense"])
def test_a_line_that_is_no_head_is_refused_with_its_number(line):
    with pytest.raises(Unreadable, match="line 2"):
        proof.read_heads(f"# heads\n{line}\n")


def test_upper_case_and_extra_spaces_from_typing_are_understood(printed):
    chain, seq, hash_ = printed.split()
    assert proof.read_heads(f"  {chain}   {seq}  {hash_.upper()} \n") == [proof.Head(chain, int(seq), hash_)]


def test_a_missing_file_of_heads_ends_with_status_2(tmp_path):
    with pytest.raises(CommandError) as refused:
        call_command("verify_records", "--against", str(tmp_path / "none"))
    assert refused.value.returncode == 2


def test_a_changed_row_is_named(printed, capsys):
    with protect.lifted():
        LedgerRow.objects.filter(seq=2).update(payload='{"good":500}')
    status, found = verify(capsys)
    assert (status, found["flaws"]) == (1, ["job:1 2: its content was changed: it does not give its hash"])


def test_a_missing_trigger_is_named(printed, capsys, monkeypatch):
    monkeypatch.setattr(protect, "check", lambda: ["records_ledgerrow"])
    assert "records_ledgerrow" in verify(capsys)[1]["flaws"][0]


def test_a_damaged_file_is_named_and_a_withdrawn_one_is_no_flaw(lead, capsys):
    damaged = files.store(b"as sent", media_type="model/step")
    withdrawn = files.store(b"taken back", media_type="model/step")
    path = files.place().path(damaged.sha256)
    path.chmod(0o644)
    path.write_bytes(b"as SENT")
    files.withdraw(withdrawn, by=lead, reason="sent to the wrong shop")
    status, found = verify(capsys)
    assert status == 1
    assert found["flaws"] == [f"file {damaged.sha256[:16]}: its bytes are others (7 of them)"]
    assert found["withdrawn"] == [withdrawn.sha256]


def test_the_text_for_people_ends_with_the_verdict(printed, capsys):
    call_command("verify_records")
    assert capsys.readouterr().out.splitlines() == [
        "3 ledger rows in 1 chains, 0 files (0 withdrawn), 0 noted heads compared",
        "all agree",
    ]
