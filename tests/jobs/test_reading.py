"""A model sent by a person is read by the worker's own task, and what it says stands on the page."""

import pytest
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.core.solid import Mesh
from shopflow.core.solid.request import STEPS
from shopflow.jobs import actions, queries, tasks
from shopflow.jobs.actions import files as files_actions
from shopflow.jobs.actions import model as model_actions
from shopflow.jobs.models import Job, JobFile
from shopflow.records import cache, ledger
from shopflow.records.models import Work
from tests.jobs.objects import MODELS, STEP_HEAD, a_job, a_material, an_upload

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(not MODELS.is_dir(), reason="the folder of real models is not beside the repository"),
]


def read(by, name="featuretype.STEP", **order):
    """A job whose model was read as a worker does it."""
    job = a_job(by, **order)
    content = (MODELS / name).read_bytes()
    actions.add_file(job, an_upload(content, name), by=by, kind=JobFile.Kind.MODEL)
    job.refresh_from_db()
    tasks.read_model(job.reading_id)
    return Job.objects.get(pk=job.pk)


def test_every_step_of_the_reader_has_its_words():
    assert set(STEPS) <= set(model_actions._WORDS)


def test_the_box_of_a_real_model_is_the_one_measured_beside_the_project(programmer):
    """Box of featuretype.STEP as in facts.csv, measured with the library alone."""
    import csv

    with (MODELS / "facts.csv").open() as handle:
        facts = next(row for row in csv.DictReader(handle) if row["file"] == "featuretype.STEP")
    reading = queries.reading_of(read(programmer))
    assert reading.bbox_mm == pytest.approx([float(facts[f"bbox_{axis}_mm"]) for axis in "xyz"], abs=2e-4)
    assert reading.volume_mm3 == pytest.approx(float(facts["volume_solids_mm3"]), rel=1e-6)


def test_the_mesh_of_a_model_is_served_as_the_viewer_reads_it(client, programmer, viewer):
    job = read(programmer)
    client.force_login(viewer)
    answer = client.get(reverse("jobs:mesh", args=[job.pk]))
    assert len(Mesh.from_bytes(answer.content).triangles) > 100


def test_a_mesh_lost_from_the_cache_comes_back_when_the_model_is_read_again(client, programmer):
    job = read(programmer)
    cache.trim(0)
    client.force_login(programmer)
    assert client.get(reverse("jobs:mesh", args=[job.pk])).status_code == 204
    tasks.read_model(actions.ask_reading(job, by=programmer).pk)
    assert client.get(reverse("jobs:mesh", args=[job.pk])).status_code == 200


def test_mass_follows_from_volume_and_material(programmer):
    job = read(programmer, material=a_material(density=2700))
    reading = queries.reading_of(job)
    assert queries.part_mass_kg(job, reading) == pytest.approx(reading.volume_mm3 * 2.7e-6)


def test_the_intake_shows_what_the_model_says(client, programmer):
    job = read(programmer, material=a_material())
    client.force_login(programmer)
    shown = client.get(reverse("jobs:intake", args=[job.pk])).content.decode()
    for words in ("Box", "Volume", "Mass", "Holes", "data-mesh-url", "in aluminium 6061"):
        assert words in shown


def test_figures_come_in_the_reader_s_own_units(client, programmer):
    job = read(programmer)
    programmer.units = "in"
    programmer.save()
    client.force_login(programmer)
    x_in = queries.reading_of(job).bbox_mm[0] / 25.4
    assert f"{x_in:.4f}" in client.get(reverse("jobs:intake", args=[job.pk])).content.decode()


BROKEN = [
    (STEP_HEAD + b"#1=CARTESIAN_POINT('',(0.,0.,0.));\n", "cut off"),
    (STEP_HEAD + b"#1=CARTESIAN_POINT('',(0.,0.,0.));\nENDSEC;\nEND-ISO-10303-21;\n", "no solid in it"),
]


@pytest.mark.parametrize(("content", "says"), BROKEN)
def test_a_model_that_cannot_be_read_is_answered_and_leaves_the_job_as_it_was(programmer, content, says):
    job = a_job(programmer)
    actions.add_file(job, an_upload(content), by=programmer, kind=JobFile.Kind.MODEL)
    job.refresh_from_db()
    tasks.read_model(job.reading_id)
    job = Job.objects.get(pk=job.pk)
    assert job.reading.state == Work.State.FAILED
    assert says in queries.why_not_read(job)
    assert queries.reading_of(job) is None
    assert (job.stage, job.quantity) == ("intake", 12)


def test_a_truncated_real_model_is_answered(programmer):
    job = a_job(programmer)
    half = (MODELS / "featuretype.STEP").read_bytes()
    actions.add_file(job, an_upload(half[: len(half) // 2]), by=programmer, kind=JobFile.Kind.MODEL)
    job.refresh_from_db()
    tasks.read_model(job.reading_id)
    assert "cut off" in queries.why_not_read(Job.objects.get(pk=job.pk))


def test_confirming_the_unit_is_noted_once(programmer):
    job = read(programmer)
    actions.confirm_unit(job, by=programmer)
    actions.confirm_unit(job, by=programmer)
    assert [row.kind for row in ledger.rows_for(job.chain)].count("unit_confirmed") == 1
    job.refresh_from_db()
    assert job.unit_confirmed


def test_a_solid_that_is_not_in_the_file_cannot_be_chosen(programmer):
    with pytest.raises(NotPossible, match="no such solid"):
        actions.choose_solid(read(programmer), by=programmer, index=99)


def test_the_unit_of_a_model_that_is_not_read_cannot_be_confirmed(programmer):
    with pytest.raises(NotPossible, match="not read yet"):
        actions.confirm_unit(a_job(programmer), by=programmer)


def test_a_chosen_solid_is_read_for_itself(programmer):
    job = read(programmer, "box_sides.STEP")
    assert queries.reading_of(job).needs_choice
    actions.choose_solid(job, by=programmer, index=4)
    job.refresh_from_db()
    tasks.read_model(job.reading_id)
    reading = queries.reading_of(Job.objects.get(pk=job.pk))
    assert (reading.chosen_solid, reading.needs_choice) == (4, False)
    assert reading.volume_mm3 == pytest.approx(reading.solids[4].volume_mm3)


def test_a_picture_that_the_cache_lost_is_made_again(programmer, client):
    job = read(programmer)
    cache.trim(most_bytes=0)
    client.force_login(programmer)
    assert client.get(reverse("jobs:mesh", args=[job.pk])).status_code == 204
    tasks.read_model(job.reading_id)
    assert client.get(reverse("jobs:mesh", args=[job.pk])).status_code == 200


def test_a_model_read_by_an_earlier_version_is_read_again(programmer, monkeypatch):
    job = read(programmer)
    monkeypatch.setattr(files_actions, "READING_VERSION", "a later one")
    tasks.read_outdated()
    job.refresh_from_db()
    assert (job.reading.version, job.reading.state) == ("a later one", Work.State.WAITING)


def test_a_model_read_by_this_version_is_left_alone(programmer):
    before = read(programmer).reading_id
    tasks.read_outdated()
    assert Job.objects.get().reading_id == before
