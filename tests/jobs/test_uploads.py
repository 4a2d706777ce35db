"""What is taken as a model or a drawing, told by its bytes; what is refused, and that the job is then as it was."""

import pytest
from django.core.exceptions import PermissionDenied
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core.errors import CoreError, NotPossible, Unreadable
from shopflow.jobs import actions, queries, uploads
from shopflow.jobs.models import Job, JobFile, Stage
from shopflow.records import files, ledger
from shopflow.records.models import StoredFile, Work
from tests.jobs.objects import PDF, STEP_HEAD, a_drawing, a_job, an_upload

KIND = JobFile.Kind


def add(job, content, by, name="part.step", kind=KIND.MODEL):
    return actions.add_file(job, an_upload(content, name), by=by, kind=kind)


@pytest.mark.django_db
def test_a_model_is_kept_under_its_bytes_and_read(programmer):
    job = a_job(programmer)
    added = add(job, STEP_HEAD, programmer)
    job.refresh_from_db()
    with files.open_file(added.stored) as handle:
        assert handle.read() == STEP_HEAD
    assert added.stored.media_type == "model/step"
    assert job.reading.state == Work.State.WAITING


@pytest.mark.django_db
def test_a_file_leaves_its_hash_in_the_history(programmer):
    job = a_job(programmer)
    added = a_drawing(job, programmer)
    row = ledger.rows_for(job.chain).last()
    assert (row.kind, row.data["sha256"], row.data["file"]) == ("file_added", added.stored.sha256, added.pk)


REFUSED = [
    (PDF, KIND.MODEL, "is a PDF"),
    (b"", KIND.MODEL, "is empty"),
    (b"\x89PNG\r\n\x1a\n....", KIND.MODEL, "is a picture"),
    (b"PK\x03\x04zip", KIND.MODEL, "is a ZIP archive"),
    (b"solid cube\nfacet normal", KIND.MODEL, "does not begin as a STEP file does"),
    (STEP_HEAD, KIND.DRAWING, "is a STEP model"),
    (b"", KIND.DRAWING, "is empty"),
    (b"\x00\x01\x02", KIND.DRAWING, "is not the kind of file"),
]


@pytest.mark.django_db
@pytest.mark.parametrize(("content", "kind", "says"), REFUSED)
def test_what_is_not_the_file_asked_for_is_refused_with_a_sentence(programmer, content, kind, says):
    job = a_job(programmer)
    before = Job.objects.filter(pk=job.pk).values().get()
    with pytest.raises(Unreadable, match=says) as refusal:
        add(job, content, programmer, name="bracket.step", kind=kind)
    assert "bracket.step" in str(refusal.value)
    assert Job.objects.filter(pk=job.pk).values().get() == before
    assert not JobFile.objects.exists()
    assert not StoredFile.objects.exists()


@pytest.mark.django_db
def test_a_file_over_the_limit_is_refused_with_the_limit_named(programmer, settings):
    settings.MAX_UPLOAD_BYTES = 3 * 1024 * 1024
    job = a_job(programmer)
    with pytest.raises(Unreadable, match="larger than the 3 MB"):
        add(job, STEP_HEAD + b" " * (3 * 1024 * 1024), programmer)
    assert not StoredFile.objects.exists()


@pytest.mark.django_db
def test_a_newer_model_forgets_what_was_said_about_the_older_one(programmer):
    job = a_job(programmer, no_model_reason="the customer sent none")
    add(job, STEP_HEAD, programmer)
    Job.objects.filter(pk=job.pk).update(unit_confirmed=True, solid_index=3)
    first = queries.reading_work(Job.objects.get(pk=job.pk))
    newer = add(job, STEP_HEAD + b"#1=X();", programmer)
    job.refresh_from_db()
    assert (job.unit_confirmed, job.solid_index, job.no_model_reason) == (False, None, "")
    assert job.reading_id != first.pk
    assert queries.current_file(job, KIND.MODEL) == newer


@pytest.mark.django_db
def test_the_same_bytes_are_read_once_for_all_jobs(programmer):
    job, other = a_job(programmer), a_job(programmer)
    add(job, STEP_HEAD, programmer)
    add(other, STEP_HEAD, programmer)
    job.refresh_from_db()
    other.refresh_from_db()
    assert job.reading == other.reading


@pytest.mark.django_db
def test_a_model_does_not_change_under_pieces_on_the_floor(programmer):
    job = a_job(programmer)
    Job.objects.filter(pk=job.pk).update(stage=Stage.FLOOR)
    with pytest.raises(NotPossible, match="on the floor"):
        add(job, STEP_HEAD, programmer)


@pytest.mark.django_db
def test_a_machinist_adds_no_files(programmer, machinist):
    job = a_job(programmer)
    with pytest.raises(PermissionDenied):
        a_drawing(job, machinist)


@pytest.mark.django_db
def test_a_reading_that_failed_is_tried_again_in_its_own_row(programmer):
    job = a_job(programmer)
    add(job, STEP_HEAD, programmer)
    job.refresh_from_db()
    Work.objects.filter(pk=job.reading_id).update(state=Work.State.FAILED, error="cut off")
    row = actions.ask_reading(job, by=programmer)
    row.refresh_from_db()
    assert (row.pk, row.state) == (job.reading_id, Work.State.WAITING)


@pytest.mark.django_db
def test_reading_again_after_success_is_new_work_on_the_same_bytes(programmer):
    job = a_job(programmer)
    add(job, STEP_HEAD, programmer)
    job.refresh_from_db()
    Work.objects.filter(pk=job.reading_id).update(state=Work.State.DONE, result={})
    job.refresh_from_db()
    again = actions.ask_reading(job, by=programmer)
    assert again.pk != job.reading_id
    assert again.data["sha256"] == job.reading.data["sha256"]


@pytest.mark.django_db
def test_a_job_without_a_model_has_nothing_to_read(programmer):
    with pytest.raises(NotPossible, match="no model to read"):
        actions.ask_reading(a_job(programmer), by=programmer)


@given(st.binary(max_size=300), st.sampled_from([KIND.MODEL, KIND.DRAWING, KIND.PHOTO, KIND.OTHER]))
def test_any_bytes_are_taken_or_refused_with_a_sentence(content, kind):
    try:
        checked = uploads.check(an_upload(content), kind)
    except CoreError as refusal:
        assert str(refusal).strip().endswith(".")
    else:
        assert checked.media_type
        assert content


@given(st.text(max_size=600))
def test_a_cleaned_name_is_one_short_line_of_shown_characters(name):
    cleaned = uploads.clean_name(name)
    assert 0 < len(cleaned) <= uploads.LONGEST_NAME
    assert cleaned.isprintable() or all(letter.isprintable() or letter.isspace() for letter in cleaned)
    assert "/" not in cleaned
    assert "\n" not in cleaned


def test_a_long_name_keeps_its_ending():
    assert uploads.clean_name("x" * 400 + ".step").endswith(".step")


def test_a_name_keeps_no_direction_marks():
    assert uploads.clean_name("C:\\parts\\cover\u202egpj.step") == "covergpj.step"
