"""A program of the shop as files, and read back: the same things that its review looks at."""

import io
import zipfile
from dataclasses import replace
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.urls import reverse

from shopflow.core.errors import NotPossible
from shopflow.core.review.setup_file import read_setup_file
from shopflow.core.review.whole import places_of
from shopflow.jobs import actions as job_actions
from shopflow.jobs.models import Setup
from shopflow.jobs.queries.from_file import FromFile
from shopflow.programs.inputs import inputs_of
from shopflow.programs.setup_export import setup_files
from shopflow.programs.stock_asked import asked_of
from shopflow.shop import actions as shop
from tests.jobs.objects import a_job, read_now
from tests.programs.objects import END, HEAD, MILL, a_planned_job, upload

BOTH = (HEAD + MILL + MILL.replace("G54", "G55").partition("\n")[2] + END).encode()


@pytest.fixture
def revision(owner, settings, tmp_path):
    settings.CACHE_DIR = tmp_path / "cache"
    shop.change_house_rule("gouge_most", text="0.080", by=owner, reason="soft jaws")
    job = read_now(a_planned_job(owner, setups=2), owner)
    held = {"held_by": "vise", "jaw_length": "6 in", "jaw_thick": "20 mm", "parallel_height": "1 in", "vary_x": "1 mm"}
    Setup.objects.filter(number=1).update(**held)
    Setup.objects.filter(number=2).update(up="-Z", zero_z="-20.05 mm", solids="clamp: -60 -10 -5, -40 10 12",
                                          held_by="clamps")  # fmt: skip
    return upload(job, BOTH, by=owner)


def exported(revision, folder):
    for name, data in setup_files(revision).items():
        (folder / name).write_bytes(data)
    return read_setup_file(folder / "SETUP.toml")


def test_everything_that_a_review_looks_at_comes_back(revision, tmp_path):
    said, inputs = exported(revision, tmp_path), inputs_of(revision)
    asked = asked_of(revision)
    blank = {"blank": asked.places[0].blank, "smallest": asked.places[0].smallest}
    assert places_of(said) == [replace(place, **blank) for place in asked.places]
    assert said.machine == asked.machine and said.machine.control == inputs.control
    assert said.tools == inputs.tools and said.material == inputs.material
    assert said.limits == inputs.changed_rules == {"gouge_most": Decimal("0.080")}
    assert (said.plan, said.own_data) == (inputs.plan, inputs.own_data)
    assert said.smallest != said.blank and all(block.solids for block in said.setups)


def test_the_program_is_exported_byte_for_byte(revision, tmp_path):
    exported(revision, tmp_path)
    assert (tmp_path / "1001.nc").read_bytes() == BOTH


def test_an_empty_plan_that_takes_the_setups_gives_the_same_file_again(revision, owner, tmp_path):
    said = exported(revision, tmp_path)
    job = read_now(a_job(owner, quantity=3, material=revision.program.job.material), owner)
    seen = FromFile(job, said).state
    assert job_actions.take_setups(job, said, by=owner, numbers={1, 2}, seen=seen) == [1, 2]
    again = exported(upload(job, BOTH, by=owner), tmp_path)
    assert again.setups[0].solids and plain(again) == plain(said)


def plain(said):
    """The same whatever the order of the boxes that hold the part; how many pieces and what edges are the order's."""
    blocks = [
        replace(one, solids=tuple(sorted((s.name, tuple(round(v, 6) for c in s.box for v in c)) for s in one.solids)))
        for one in said.setups
    ]
    boxes = [[round(v, 6) for corner in box for v in corner] for box in (said.blank, said.smallest)]
    return replace(said, setups=blocks, blank=boxes[0], smallest=boxes[1], on_hand=None)


def test_the_page_of_a_program_gives_the_same_files_as_one_archive(revision, owner, client):
    client.force_login(owner)
    answer = client.get(reverse("programs:setup_file", args=[revision.pk]))
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert {name: archive.read(name) for name in archive.namelist()} == setup_files(revision)


def test_the_command_writes_them_and_says_how_to_review_them(revision, tmp_path, capsys):
    call_command("setup_file", revision.program.job.number, str(tmp_path / "out"))
    assert (tmp_path / "out" / "SETUP.toml").is_file()
    assert "review_program 1001.nc --setup SETUP.toml" in capsys.readouterr().out


def test_a_plan_that_does_not_say_enough_is_refused_with_what_is_missing(revision):
    Setup.objects.filter(number=1).update(zero_x=None)
    with pytest.raises(NotPossible, match="part zero of setup 1"):
        setup_files(type(revision).objects.get(pk=revision.pk))


def test_a_job_that_is_not_there_is_refused(db, tmp_path):
    with pytest.raises(CommandError, match="no job"):
        call_command("setup_file", "0-0", str(tmp_path))
