"""The blank of a setup given by a customer's solid model: sent, read, cut, bound, exported."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.urls import reverse

from shopflow.core.errors import Unreadable
from shopflow.core.review.setup_file import read_setup_file
from shopflow.core.review.setup_values import AS_MODEL
from shopflow.jobs import actions as jobs
from shopflow.jobs import queries as job_queries
from shopflow.jobs import tasks
from shopflow.jobs.models import JobFile, Setup
from shopflow.jobs.queries.from_file import FromFile
from shopflow.programs.actions import simulate
from shopflow.programs.models import ProgramRevision
from shopflow.programs.setup_export import setup_files
from shopflow.programs.stock_asked import SIMULATION, Lacking, asked_of
from shopflow.records import cache, files
from shopflow.records.models import Work
from tests.core.solid import parts
from tests.jobs.objects import a_job, read_now
from tests.people_fixtures import PASSWORD, make_person
from tests.programs.objects import END, HEAD, MILL, a_planned_job, everyone_at_once, upload

LONG_NAME = "casting of the lower housing, pattern 4, as the foundry sent it on the second of May.step"
TEXT = (HEAD + MILL + END).encode()


@pytest.fixture(scope="module")
def step(tmp_path_factory):
    folder = tmp_path_factory.mktemp("blanks")

    def made(*shapes):
        path = folder / "made.step"
        return parts.write(parts.together(*shapes) if len(shapes) > 1 else shapes[0], path).read_bytes()

    return made


def send(job, data, by, name=LONG_NAME):
    return jobs.add_file(job, SimpleUploadedFile(name, data), by=by, kind=JobFile.Kind.BLANK)


@pytest.fixture(scope="module")
def made_once(django_db_setup, django_db_blocker, step, tmp_path_factory):
    """A program on a setup whose blank is a casting that nobody has read yet."""
    casting = parts.cut(parts.box(70, 50, 26, (-5, -5, -1)), parts.box(20, 20, 5, (40, 20, 20)))
    with django_db_blocker.unblock(), transaction.atomic():
        owner = everyone_at_once(make_person("the_owner", password=PASSWORD))
        job = read_now(a_planned_job(owner), owner)
        blank = send(job, step(casting), owner)
        jobs.change_setup(job.setups.get(), by=owner, blank_file=blank)
        yield upload(job, TEXT, by=owner).pk
        transaction.set_rollback(True)


@pytest.fixture
def revision(made_once, db, settings, tmp_path):
    settings.CACHE_DIR = tmp_path / "cache"
    return ProgramRevision.objects.get(pk=made_once)


@pytest.fixture
def owner(revision):
    return revision.uploaded_by


@pytest.fixture
def read(revision):
    """The program once the worker has read the casting."""
    tasks.read_model(reading_of_blank(revision).pk)
    return ProgramRevision.objects.get(pk=revision.pk)


def blank_of(revision):
    return revision.program.job.files.get(kind="blank")


def reading_of_blank(revision):
    return job_queries.work_of_model(blank_of(revision))


def removals():
    return list(Work.objects.filter(kind=SIMULATION))


def asked(revision):
    return asked_of(revision)


def test_what_is_cut_waits_for_the_model_of_the_blank_and_says_so(revision):
    said = asked(revision)
    assert isinstance(said, Lacking) and "is being read" in said.why and LONG_NAME in said.why


def test_the_cut_is_asked_for_by_itself_once_the_blank_is_read(revision):
    assert not removals()
    tasks.read_model(reading_of_blank(revision).pk)
    assert len(removals()) == 1


def test_the_blank_is_as_large_as_its_model_and_lies_where_that_does(read):
    (place,) = asked(read).places
    assert place.blank == place.smallest
    assert [*place.blank[0], *place.blank[1]] == pytest.approx([-5, -5, -1, 65, 45, 25])


def test_the_program_cuts_the_casting_even_where_its_mesh_was_lost_from_the_cache(read):
    cache.trim(0)
    (row,) = removals()
    (setup,) = simulate(row, lambda *_: None)["setups"]
    assert setup["left_mm3"] + setup["removed_mm3"] == pytest.approx(70 * 50 * 26 - 20 * 20 * 5, rel=0.02)


def test_a_blank_of_one_size_with_a_range_is_refused_where_the_result_would_be(read):
    Setup.objects.update(vary_x="1 mm")
    said = asked(ProgramRevision.objects.get(pk=read.pk))
    assert isinstance(said, Lacking) and "one size" in said.why


def test_withdrawn_bytes_of_a_blank_are_told(read, owner):
    files.withdraw(blank_of(read).stored, by=owner, reason="sent by mistake")
    assert "was withdrawn" in asked(ProgramRevision.objects.get(pk=read.pk)).why


def test_a_file_of_two_solids_says_that_the_blank_is_to_be_one(revision, owner, step):
    job = revision.program.job
    two = send(job, step(parts.box(5, 5, 5), parts.box(5, 5, 5, (9, 0, 0))), owner, "two.step")
    tasks.read_model(job_queries.work_of_model(two).pk)
    assert "not one solid" in job_queries.why_not_a_blank(two)


def test_a_drawing_is_no_model_of_a_blank(revision, owner):
    with pytest.raises(Unreadable, match="STEP file with that one solid"):
        send(revision.program.job, b"%PDF-1.7\n", owner, "casting.pdf")


def test_the_export_names_the_blank_and_holds_its_bytes(read, tmp_path):
    for name, data in setup_files(read).items():
        (tmp_path / name).write_bytes(data)
    said = read_setup_file(tmp_path / "SETUP.toml")
    assert (said.form.model, said.blank) == (LONG_NAME, AS_MODEL)
    assert files.store((tmp_path / LONG_NAME).read_bytes(), media_type="model/step") == blank_of(read).stored


def imported(read, tmp_path):
    for name, data in setup_files(read).items():
        (tmp_path / name).write_bytes(data)
    return read_setup_file(tmp_path / "SETUP.toml")


def test_a_job_that_has_the_blank_takes_it_from_the_file(read, owner, step, tmp_path):
    job = read_now(a_job(owner, quantity=3), owner)
    blank = send(job, step(parts.box(9, 9, 9)), owner)
    (block,) = FromFile(job, imported(read, tmp_path)).blocks
    assert block.typed["blank_file"] == blank


def test_a_job_that_lacks_the_blank_is_asked_for_it(read, owner, tmp_path):
    (block,) = FromFile(read_now(a_job(owner, quantity=3), owner), imported(read, tmp_path)).blocks
    assert any("send it to the job as the model of its blank" in words for words in block.told)


def test_a_copied_plan_has_the_blank_as_a_file_of_its_own(read, owner):
    job = read.program.job
    jobs.propose_plan(job, by=owner)
    copy = jobs.copy_plan(a_job(owner), job, by=owner)
    (blank,) = copy.files.filter(kind="blank")
    assert blank.stored == blank_of(read).stored
    assert {setup.blank_file for setup in copy.setups.exclude(blank_file=None)} == {blank}


def test_the_pages_show_the_blank_by_its_name_and_box(read, owner, client):
    client.force_login(owner)
    job, setup = read.program.job, read.program.setups.get()
    intake = client.get(reverse("jobs:intake", args=[job.pk])).content.decode()
    assert LONG_NAME in intake and "model of the blank" in intake and "70.000" in intake
    page = client.get(reverse("jobs:setup", args=[setup.pk])).content.decode()
    assert LONG_NAME in page and "One solid of" in page
    mesh = reverse("jobs:model_mesh", args=[job.pk, blank_of(read).pk])
    assert mesh in page and client.get(mesh).status_code == 200


def test_no_bar_of_the_rack_is_offered_for_a_blank_that_is_a_model(read, owner, client):
    client.force_login(owner)
    page = client.get(reverse("jobs:stock", args=[read.program.job_id])).content.decode()
    assert LONG_NAME in page and "it is not sawn from the rack" in page
    assert "The customer supplies the blanks" in page


def test_a_range_typed_beside_the_model_is_refused_at_its_field(read, owner, client):
    client.force_login(owner)
    setup = read.program.setups.get()
    typed = {"title": "side 1", "up": "+Z", "work_offset": 1, "blank_file": blank_of(read).pk, "vary_x": "1 mm"}
    answer = client.post(reverse("jobs:setup", args=[setup.pk]), typed)
    assert answer.status_code == 422 and "has one size" in answer.content.decode()


def test_a_reading_that_failed_says_why(revision):
    row = reading_of_blank(revision)
    Work.objects.filter(pk=row.pk).update(state=Work.State.FAILED, error="The file is cut off.")
    assert "could not be read: The file is cut off." in asked(ProgramRevision.objects.get(pk=revision.pk)).why
