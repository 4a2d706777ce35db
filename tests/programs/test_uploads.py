import pytest

from shopflow.core.errors import NotPossible, Unreadable
from shopflow.programs import queries
from shopflow.programs.models import Program, ProgramRevision, Review
from shopflow.records import ledger
from shopflow.records.models import Work
from tests.programs.objects import GOOD, a_machine, a_planned_job, a_program, again, upload


def test_an_upload_keeps_the_exact_bytes(job, owner):
    assert queries.content(upload(job, by=owner, reviewed=False)) == GOOD


def test_an_upload_is_in_the_ledger_with_its_hash(job, owner):
    revision = upload(job, by=owner)
    row = ledger.rows_for(job.chain).get(kind="program_uploaded")
    assert row.data["sha256"] == revision.stored.sha256


def test_an_upload_asks_for_a_review(job, owner):
    revision = upload(job, by=owner, reviewed=False)
    assert queries.review_of(revision).work.state == Work.State.WAITING


def test_a_second_upload_of_a_program_is_its_next_revision(job, owner):
    first = upload(job, by=owner)
    assert again(first, a_program(depth=12), by=owner).number == 2


def test_the_same_bytes_again_are_refused_as_nothing_new(job, owner):
    first = upload(job, by=owner)
    with pytest.raises(NotPossible, match="bytes of revision 1"):
        again(first, GOOD, by=owner)


def test_bytes_of_an_older_revision_may_come_back(job, owner):
    first = upload(job, by=owner)
    again(first, a_program(depth=12), by=owner)
    assert again(first, GOOD, by=owner).number == 3


def test_the_same_bytes_under_the_same_plan_are_reviewed_once(job, owner):
    first = upload(job, by=owner)
    again(first, a_program(depth=12), by=owner)
    back = upload(job, GOOD, by=owner, program=first.program, reviewed=False)
    assert queries.review_of(back).work == queries.review_of(first).work


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b" \r\n", "empty"),
        (bytes(range(256)) * 40, "binary"),
        (b"%PDF-1.7\n", "PDF"),
        ("G0 X1\n".encode("utf-16"), "UTF-16"),
    ],
    ids=["nothing", "blanks", "binary", "a document", "utf-16"],
)
def test_what_is_no_program_is_refused_in_a_sentence(job, owner, data, says):
    with pytest.raises(Unreadable, match=says):
        upload(job, data, by=owner)


def test_a_refused_upload_leaves_no_row(job, owner):
    with pytest.raises(Unreadable):
        upload(job, b"", by=owner)
    assert not Program.objects.exists()


def test_an_upload_over_the_limit_is_refused_in_a_sentence(job, owner, settings):
    settings.MAX_UPLOAD_BYTES = 20
    with pytest.raises(Unreadable, match="bytes"):
        upload(job, by=owner)


def test_a_program_without_a_setup_is_refused(job, owner):
    with pytest.raises(NotPossible, match="Choose the setup"):
        upload(job, by=owner, setups=[])


def test_a_manual_setup_takes_no_program(job, owner):
    job.setups.update(manual_reason="filed by hand")
    with pytest.raises(NotPossible, match="by hand"):
        upload(job, by=owner)


def test_setups_on_two_machines_need_two_programs(owner):
    job = a_planned_job(owner, setups=2)
    job.setups.filter(number=2).update(machine=a_machine("the big mill"))
    with pytest.raises(NotPossible, match="different machines"):
        upload(job, by=owner)


def test_a_setup_of_another_job_is_refused(job, owner):
    other = a_planned_job(owner, part_number="other")
    with pytest.raises(NotPossible, match="its own job"):
        upload(job, by=owner, setups=list(other.setups.all()))


def test_two_programs_of_a_job_have_two_names(job, owner):
    upload(job, by=owner, name="1001")
    with pytest.raises(NotPossible, match="already"):
        upload(job, a_program(depth=3), by=owner, name="1001")


def test_a_closed_job_takes_no_program(job, owner):
    type(job).objects.update(stage="closed")
    with pytest.raises(NotPossible, match="closed"):
        upload(job, by=owner)


def test_a_machinist_may_not_upload(job, machinist):
    from django.core.exceptions import PermissionDenied

    with pytest.raises(PermissionDenied):
        upload(job, by=machinist)


def test_the_numbers_a_program_calls_are_found_with_it(job, owner):
    assert upload(job, a_program(depth=3), by=owner).called == [1, 2]


def test_a_review_is_never_lost_between_revision_and_worker(job, owner):
    revision = upload(job, by=owner, reviewed=False)
    assert Review.objects.get(revision=revision).work.key
    assert ProgramRevision.objects.get().number == 1
