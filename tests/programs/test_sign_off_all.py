"""All programs of a job signed in one act: all or none, each a sign-off of its own."""

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.people import log_in
from shopflow.programs import actions, queries
from shopflow.programs.models import SignOff
from shopflow.records import ledger
from shopflow.shop.models import Tool
from tests.people_fixtures import PASSWORD, make_person
from tests.programs.objects import GOOD, a_planned_job, a_program, accept, again, review, sign, upload


@pytest.fixture
def job(owner):
    return a_planned_job(owner, setups=2)


@pytest.fixture
def two(job, owner):
    """Two programs of one job, each with a setup of its own; the second also calls T2."""
    first, second = job.setups.all()
    drilling = a_program(depth=3).replace(b"G54", b"G55")
    return [
        upload(job, GOOD, by=owner, name="1001", setups=[first]),
        upload(job, drilling, by=owner, name="1002", setups=[second]),
    ]


@pytest.fixture
def one_not_ready(job, two, owner):
    return [two[0], again(two[1], GOOD.replace(b"M30", b"M777").replace(b"G54", b"G55"), by=owner)]


def sign_all(revisions, *, by, password=PASSWORD, printed_name="R. Eviewer", meaning="released"):
    if not by.check_password(PASSWORD):
        by.set_password(PASSWORD)
        by.save()
    said = {"printed_name": printed_name, "meaning": meaning}
    return actions.sign_off_all(revisions, by=by, password=password, **said)


def stands(revision):
    return queries.sign_off_standing(revision).valid


def test_both_are_signed_each_binding_its_own_bytes(two, owner):
    signed = sign_all(two, by=owner)
    assert [one.content_sha256 for one in signed] == [revision.stored.sha256 for revision in two]
    assert all(stands(revision) for revision in two)


def test_each_has_a_row_of_its_own_in_the_ledger(two, job, owner):
    signed = sign_all(two, by=owner)
    rows = ledger.rows_for(job.chain).filter(kind="signed_off")
    assert {row.subject_id for row in rows} == {one.pk for one in signed}


def test_one_that_is_not_ready_leaves_all_of_them_unsigned(one_not_ready, owner):
    with pytest.raises(actions.SomeNotReady, match="1002: Must be mended") as refusal:
        sign_all(one_not_ready, by=owner)
    assert [revision for revision, _reason in refusal.value.refused] == one_not_ready[1:]
    assert not SignOff.objects.exists()


def test_left_out_the_other_is_signed_alone(one_not_ready, owner):
    assert len(sign_all(one_not_ready[:1], by=owner)) == 1
    assert [stands(revision) for revision in one_not_ready] == [True, False]


def test_one_that_lapses_leaves_the_other_standing(two, owner):
    sign_all(two, by=owner)
    Tool.objects.filter(number=2).update(diameter="5.9 mm")
    assert [stands(revision) for revision in two] == [True, False]


def test_a_wrong_password_signs_none(two, owner):
    with pytest.raises(log_in.LogInRefused):
        sign_all(two, by=owner, password="not it")
    assert not SignOff.objects.exists()


def test_a_programmer_signs_none(two, programmer):
    with pytest.raises(PermissionDenied):
        sign_all(two, by=programmer)


def test_one_without_a_printed_name_signs_none(two, owner):
    with pytest.raises(NotPossible, match="Print your name"):
        sign_all(two, by=owner, printed_name=" ")


def test_none_ticked_is_refused(job, owner):
    with pytest.raises(NotPossible, match="Tick at least one"):
        sign_all([], by=owner)


def test_one_that_is_signed_already_is_named(two, owner):
    sign(two[0], by=owner)
    with pytest.raises(actions.SomeNotReady, match="1001: It is signed off already"):
        sign_all(two, by=owner)
    assert SignOff.objects.count() == 1


def test_programs_of_two_jobs_are_not_signed_in_one_act(two, owner):
    other = upload(a_planned_job(owner, part_number="other"), by=owner)
    with pytest.raises(NotPossible, match="one job"):
        sign_all([two[0], other], by=owner)


def test_an_undecided_finding_names_how_many_more_there_are(job, two, owner):
    deep = again(two[1], a_program(depth=20).replace(b"G54", b"G55"), by=owner)
    assert queries.why_not(queries.Reviewed(deep), by=owner).startswith("Nobody decided")
    accept(deep, by=owner)
    assert queries.why_not(queries.Reviewed(deep), by=owner) == ""


@pytest.fixture
def address(job):
    return reverse("programs:sign_off_all", args=[job.pk])


def typed(revisions, **more):
    said = {"printed_name": "R. Eviewer", "meaning": "released", "password": PASSWORD}
    return {**said, "revision": [revision.pk for revision in revisions], **more}


@pytest.fixture
def signer(client, owner):
    owner.set_password(PASSWORD)
    owner.save()
    client.force_login(owner)
    return client


def test_the_page_signs_what_is_ticked(signer, address, two):
    assert signer.post(address, typed(two)).status_code == 302
    assert all(stands(revision) for revision in two)


def test_the_page_names_the_one_that_is_not_ready_before_anybody_signs(signer, address, one_not_ready):
    page = signer.get(address).text
    assert "Must be mended" in page
    assert "Untick it" in page


def test_the_page_keeps_what_was_typed_and_ticked_where_it_is_refused(signer, address, one_not_ready):
    page = signer.post(address, typed(one_not_ready, printed_name="Robin Eviewer"))
    assert page.status_code == 422
    assert 'value="Robin Eviewer"' in page.text
    assert [is_ticked for _row, is_ticked in page.context["waiting"]] == [True, True]
    assert PASSWORD not in page.text
    assert not SignOff.objects.exists()


def test_the_page_leaves_out_what_is_unticked(signer, address, one_not_ready):
    assert signer.post(address, typed(one_not_ready[:1])).status_code == 302
    assert [stands(revision) for revision in one_not_ready] == [True, False]


def test_a_wrong_password_is_said_beside_its_field(signer, address, two):
    page = signer.post(address, typed(two, password="not it"))
    assert page.status_code == 422
    assert "neither your password nor the code of your badge" in page.text


def test_a_revision_of_another_job_is_not_signed_on_this_page(signer, address, two, owner):
    other = upload(a_planned_job(owner, part_number="other"), by=owner)
    signer.post(address, typed([*two, other]))
    assert not stands(other)


def test_the_list_offers_it_to_a_reviewer_while_two_wait(signer, address, job, two, owner):
    assert address in signer.get(reverse("programs:list", args=[job.pk])).text
    sign(two[0], by=owner)
    assert address not in signer.get(reverse("programs:list", args=[job.pk])).text


def test_the_list_does_not_offer_it_to_others(client, address, job, two):
    client.force_login(make_person("pat", "programmer"))
    assert address not in client.get(reverse("programs:list", args=[job.pk])).text


def test_a_review_that_lapsed_may_be_signed_again_with_the_others(two, job, owner):
    sign_all(two, by=owner)
    Tool.objects.filter(number=2).update(diameter="5.9 mm")
    actions.note_changes(owner, [job.pk])
    review(two[1])
    sign_all(two[1:], by=owner)
    assert all(stands(revision) for revision in two)
