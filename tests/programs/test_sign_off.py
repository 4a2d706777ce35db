import json

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, transaction

from shopflow.core.errors import NotPossible
from shopflow.jobs.models import Setup
from shopflow.people import actions as people
from shopflow.people import log_in
from shopflow.programs import actions, queries
from shopflow.programs.models import SignOff
from shopflow.records import ledger
from shopflow.records.canonical import canonical
from shopflow.shop.models import HouseRule
from tests.people_fixtures import make_person
from tests.programs.objects import GOOD, a_program, accept, again, review, sign, upload


@pytest.fixture
def revision(job, owner):
    return upload(job, by=owner)


def test_a_clean_review_may_be_signed_off(revision, owner):
    sign(revision, by=owner)
    assert queries.sign_off_standing(revision).valid


def test_the_sign_off_binds_the_hash_of_the_bytes(revision, owner):
    assert sign(revision, by=owner).content_sha256 == revision.stored.sha256


def test_the_sign_off_keeps_the_assumptions_as_canonical_json(revision, owner):
    signed = sign(revision, by=owner)
    assert signed.assumptions == canonical(queries.assumptions(revision))


def test_the_assumptions_name_everything_that_a_sign_off_binds(revision):
    assert set(queries.assumptions(revision)) == {
        "format", "model", "material", "machine", "control", "house_rules", "setups", "tools",
    }  # fmt: skip


def test_the_assumptions_of_a_setup_are_blank_zero_workholding_and_side(revision):
    bound = queries.assumptions(revision)["setups"]["1"]
    assert set(bound) == {"up", "zero", "workholding", "blank", "blank_over"}
    assert bound["zero"]["on_model"] == {"x": 0, "y": 0, "z": 0}


def test_a_zero_that_is_not_known_binds_nothing_as_before_zeros_had_numbers(revision):
    Setup.objects.update(zero_y="", blank_over="")
    bound = queries.assumptions(revision)["setups"]["1"]
    assert set(bound) == {"up", "zero", "workholding", "blank"}
    assert set(bound["zero"]) == {"point", "offset"}


def test_the_assumptions_of_a_tool_are_diameter_shape_lengths_and_holder(revision):
    assert set(queries.assumptions(revision)["tools"]["1"]) == {
        "diameter", "shape", "least_length_of_cut", "least_stickout", "holder",
    }  # fmt: skip


def test_only_tools_that_the_program_calls_are_bound(revision):
    assert list(queries.assumptions(revision)["tools"]) == ["1"]


def test_the_sign_off_is_in_the_ledger(revision, owner, job):
    signed = sign(revision, by=owner)
    row = ledger.rows_for(job.chain).get(kind="signed_off")
    assert (row.subject, row.data["sha256"]) == (("sign_off", signed.pk), signed.content_sha256)


def test_the_ledger_row_of_a_sign_off_holds_no_name(revision, owner, job):
    sign(revision, by=owner, printed_name="Quinn Unmistakable")
    assert "Unmistakable" not in ledger.rows_for(job.chain).get(kind="signed_off").payload


def test_a_wrong_password_signs_nothing(revision, owner):
    with pytest.raises(log_in.LogInRefused):
        actions.sign_off(revision, by=owner, password="not it", printed_name="O", meaning="m")
    assert not SignOff.objects.exists()


CODE = "BADGEOFTHEOWNER23456"


def signed_with(revision, owner, secret):
    return actions.sign_off(revision, by=owner, password=secret, printed_name="O", meaning="m")


def test_the_code_of_the_own_badge_signs_as_the_password_does(revision, owner):
    people.issue_badge(owner, by=owner, code=CODE)
    signed_with(revision, owner, CODE.lower())
    row = ledger.rows_for(revision.program.job.chain).filter(kind="signed_off").get()
    assert row.data["proved"] == "badge"


def test_the_badge_of_another_person_signs_nothing(revision, owner):
    people.issue_badge(make_person("another"), by=owner, code=CODE)
    with pytest.raises(log_in.LogInRefused, match="nor the code of your badge"):
        signed_with(revision, owner, CODE)


def test_a_person_without_a_badge_is_not_proved_by_empty_words(revision, owner):
    with pytest.raises(log_in.LogInRefused):
        signed_with(revision, owner, "")


def test_a_password_guessed_too_often_has_to_wait(revision, owner):
    for _ in range(5):
        with pytest.raises(log_in.LogInRefused):
            actions.sign_off(revision, by=owner, password="not it", printed_name="O", meaning="m")
    with pytest.raises(log_in.LogInRefused, match="Wait"):
        sign(revision, by=owner)


def test_a_programmer_may_not_sign_off(revision, programmer):
    with pytest.raises(PermissionDenied):
        sign(revision, by=programmer)


def test_a_sign_off_needs_a_printed_name(revision, owner):
    with pytest.raises(NotPossible, match="Print your name"):
        sign(revision, by=owner, printed_name="  ")


def test_a_sign_off_waits_for_the_review(job, owner):
    unread = upload(job, by=owner, reviewed=False)
    with pytest.raises(actions.NotReady, match="not finished"):
        sign(unread, by=owner)


def test_a_must_fix_finding_blocks_the_sign_off(job, owner):
    faulty = upload(job, GOOD.replace(b"M30", b"M777"), by=owner)
    with pytest.raises(actions.NotReady, match="Must be mended"):
        sign(faulty, by=owner)


def test_an_undecided_finding_blocks_the_sign_off(job, owner):
    deep = upload(job, a_program(depth=20), by=owner)
    with pytest.raises(actions.NotReady, match="Nobody decided"):
        sign(deep, by=owner)


def test_a_finding_to_be_mended_blocks_the_sign_off(job, owner):
    deep = upload(job, a_program(depth=20), by=owner)
    keys = [finding.key for finding in queries.findings(deep)]
    actions.decide(deep, keys, by=owner, verdict="mend", reason="let it peck")
    with pytest.raises(actions.NotReady, match="To be mended"):
        sign(deep, by=owner)


def test_an_accepted_finding_lets_it_be_signed_off(job, owner):
    deep = upload(job, a_program(depth=20), by=owner)
    accept(deep, by=owner)
    assert sign(deep, by=owner)


def test_the_evidence_holds_findings_and_decisions(job, owner):
    deep = upload(job, a_program(depth=20), by=owner)
    accept(deep, by=owner, reason="soft aluminium")
    evidence = json.loads(sign(deep, by=owner).evidence)
    assert [row["code"] for row in evidence["findings"]] == ["plunge-too-deep"]
    assert [row["reason"] for row in evidence["decisions"]] == ["soft aluminium"]


def test_an_older_revision_is_not_signed_off(revision, owner):
    again(revision, a_program(depth=3), by=owner)
    with pytest.raises(NotPossible, match="newer revision"):
        sign(revision, by=owner)


def test_where_the_shop_wants_two_persons_the_uploader_does_not_sign(revision, owner):
    HouseRule.objects.create(key=actions.TWO_PERSONS, value="1")
    actions.note_changes(owner, [revision.program.job_id])
    review(revision)
    with pytest.raises(NotPossible, match="two persons"):
        sign(revision, by=owner)


def test_where_the_shop_wants_two_persons_another_one_signs(revision, owner):
    HouseRule.objects.create(key=actions.TWO_PERSONS, value="1")
    actions.note_changes(owner, [revision.program.job_id])
    review(revision)
    assert sign(revision, by=make_person("second", "reviewer"))


@pytest.mark.both_databases
@pytest.mark.parametrize("act", ["update", "delete"])
def test_the_database_refuses_to_rewrite_a_sign_off(revision, owner, act):
    signed = SignOff.objects.filter(pk=sign(revision, by=owner).pk)
    with pytest.raises(DatabaseError, match="only"), transaction.atomic():
        signed.update(printed_name="Somebody Else") if act == "update" else signed._raw_delete(signed.db)
