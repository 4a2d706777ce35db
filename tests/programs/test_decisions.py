import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, transaction

from shopflow.core.errors import NotPossible
from shopflow.programs import actions, queries
from shopflow.programs.models import Decision
from shopflow.records import ledger
from tests.programs.objects import GOOD, a_program, accept, again, upload


@pytest.fixture
def deep(job, owner):
    return upload(job, a_program(depth=20), by=owner)


def keys_of(revision):
    return [finding.key for finding in queries.findings(revision)]


def test_a_decision_is_kept_with_its_reason_and_person(deep, owner):
    (decision,) = accept(deep, by=owner, reason="soft stock")
    assert (decision.reason, decision.decided_by, decision.code) == ("soft stock", owner, "plunge-too-deep")


def test_the_newest_decision_on_a_finding_counts(deep, owner):
    accept(deep, by=owner)
    actions.decide(deep, keys_of(deep), by=owner, verdict="mend", reason="let it peck")
    assert queries.findings(deep)[0].decision.verdict == "mend"


def test_a_decision_is_in_the_ledger_without_its_words(deep, owner, job):
    accept(deep, by=owner, reason="words that may have to be erased")
    payload = ledger.rows_for(job.chain).get(kind="findings_decided").payload
    assert "plunge-too-deep" in payload and "erased" not in payload


def test_several_findings_are_decided_at_once_with_one_reason(job, owner):
    revision = upload(job, a_program(depth=20).replace(b"G43 H1", b"G43 H2"), by=owner)
    decided = actions.decide(revision, keys_of(revision), by=owner, verdict="accept", reason="known here")
    assert {row.code for row in decided} == {"plunge-too-deep", "length-offset-of-another"}


@pytest.mark.parametrize("reason", ["", "   ", "x" * 301])
def test_a_decision_needs_a_reason_of_a_sane_length(deep, owner, reason):
    with pytest.raises(NotPossible, match="reason"):
        actions.decide(deep, keys_of(deep), by=owner, verdict="accept", reason=reason)


def test_a_must_fix_finding_cannot_be_accepted(job, owner):
    faulty = upload(job, GOOD.replace(b"M30", b"M777"), by=owner)
    with pytest.raises(NotPossible, match="must be mended"):
        actions.decide(faulty, keys_of(faulty), by=owner, verdict="accept", reason="no")


def test_a_finding_that_is_gone_cannot_be_decided(deep, owner):
    with pytest.raises(NotPossible, match="does not stand"):
        actions.decide(deep, ["f" * 24], by=owner, verdict="accept", reason="gone")


def test_nothing_is_decided_on_an_older_revision(deep, owner):
    keys = keys_of(deep)
    again(deep, GOOD, by=owner)
    with pytest.raises(NotPossible, match="newer revision"):
        actions.decide(deep, keys, by=owner, verdict="accept", reason="late")


def test_a_machinist_decides_nothing(deep, machinist):
    with pytest.raises(PermissionDenied):
        accept(deep, by=machinist)


@pytest.mark.both_databases
@pytest.mark.parametrize("act", ["update", "delete"])
def test_the_database_refuses_to_rewrite_a_decision(deep, owner, act):
    rows = Decision.objects.filter(pk=accept(deep, by=owner)[0].pk)
    with pytest.raises(DatabaseError, match="only"), transaction.atomic():
        rows.update(reason="otherwise") if act == "update" else rows._raw_delete(rows.db)


def test_a_decision_is_carried_to_the_next_revision_and_shown_as_carried(deep, owner):
    accept(deep, by=owner, reason="soft stock")
    newer = again(deep, a_program(depth=20).replace(b"X40.", b"X39."), by=owner)
    (finding,) = queries.findings(newer)
    assert finding.decision.text == "accept, carried from revision 1"


def test_a_decision_is_not_carried_over_changed_lines(deep, owner):
    accept(deep, by=owner)
    newer = again(deep, a_program(depth=20).replace(b"G1 Z-20 F120.", b"G1 Z-20 F90."), by=owner)
    assert queries.findings(newer)[0].decision is None


def test_a_decision_is_not_carried_to_a_finding_that_grew(deep, owner):
    accept(deep, by=owner)
    assert queries.findings(again(deep, a_program(depth=24), by=owner))[0].decision is None


def test_a_finding_to_be_mended_is_not_carried(deep, owner):
    actions.decide(deep, keys_of(deep), by=owner, verdict="mend", reason="let it peck")
    newer = again(deep, a_program(depth=20).replace(b"X40.", b"X39."), by=owner)
    assert queries.findings(newer)[0].decision is None


def test_a_carried_decision_is_carried_on(deep, owner):
    accept(deep, by=owner)
    second = again(deep, a_program(depth=20).replace(b"X40.", b"X39."), by=owner)
    third = again(second, a_program(depth=20).replace(b"X40.", b"X38."), by=owner)
    assert queries.findings(third)[0].decision.carried_from.revision == second


def test_the_same_finding_twice_has_two_keys(job, owner):
    twice = upload(job, GOOD.replace(b"M30", b"M777\nM777\nM30"), by=owner)
    keys = [finding.key for finding in queries.findings(twice) if finding.is_must_fix]
    assert len(set(keys)) == 2


def test_more_findings_than_are_listed_are_counted_in_one_more(job, owner, monkeypatch):
    monkeypatch.setattr("shopflow.programs.reviewing.MOST_FINDINGS", 5)
    letter = upload(job, b"%\n" + b"a letter and no program\n" * 40 + b"M30\n%\n", by=owner)
    found = queries.findings(letter)
    assert len(found) == 6
    assert [finding.code for finding in found].count("more-findings") == 1


def test_bytes_that_come_back_bring_their_decisions_along(deep, owner):
    accept(deep, by=owner)
    again(deep, GOOD, by=owner)
    back = again(deep, a_program(depth=20), by=owner)
    assert queries.findings(back)[0].decision.carried_from.revision == deep
