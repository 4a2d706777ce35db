"""Material removal of a planned program: computed in place as a worker would,."""

import pytest

from shopflow.core.stock import shapes
from shopflow.core.stock.grid import grid_over
from shopflow.core.types import Placement, Tool, ToolShape
from shopflow.programs import queries, simulating, stock_picture
from shopflow.programs.simulating import Asked, Place
from tests.programs.objects import HEAD, upload

MILL = Tool(1, "", ToolShape.FLAT, 10.0, flute_length_mm=22.0, stickout_mm=35.0)
BLANK = ((-20.0, -20.0, -20.0), (60.0, 20.0, 0.0))
SLOT = (
    "T1 M6\nG54 G0 X-40. Y0. S4000 M3\nG43 H1 Z50. M8\nZ5.\nG1 Z-2. F200.\nX80. F600.\n"
    "G0 Z50. M9\nM5\nG53 G0 Z0.\nM30\n%\n"
)


def simulated(text, *, before=None):
    from shopflow.core.cutting.time import TYPICAL_MACHINE

    place = Place(1, 1, Placement(), BLANK)
    asked = Asked("0" * 64, "0" * 64, "", TYPICAL_MACHINE, (MILL,), (place,))
    assert simulating.asked_from(asked.plain) == asked
    return simulating.simulate(asked, (HEAD + text).encode(), before, key="f" * 64, progress=lambda *_: None)


def codes(result):
    return [(row["weight"], row["code"], row["first_line"]) for row in result["findings"]]


def test_a_slot_takes_away_its_width_times_its_depth_times_the_length_of_the_block(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    removed = simulated(SLOT)["setups"][0]["removed_mm3"]
    assert removed == pytest.approx(10.0 * 2.0 * 80.0, rel=0.005)


def test_a_rapid_through_the_block_is_a_must_fix_at_its_line(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    through = SLOT.replace("X80. F600.\n", "X80. F600.\nG0 Y10.\nX-40.\n")
    assert ("must-fix", "rapid-through-material", 11) in codes(simulated(through))


def test_the_clean_slot_has_no_must_fix(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    assert not [row for row in codes(simulated(SLOT)) if row[0] == "must-fix"]


def test_what_the_setup_before_left_is_what_is_cut(settings, tmp_path):
    settings.CACHE_DIR = tmp_path
    low = shapes.box(grid_over(BLANK, 0.4), (BLANK[0], (60.0, 20.0, -2.5)))
    assert simulated(SLOT, before=low)["setups"][0]["removed_mm3"] == 0.0


def test_a_picture_says_what_changed_after_which_line():
    columns = shapes.box(grid_over(BLANK, 1.0), BLANK)
    frames = stock_picture.Frames(columns)
    frames.add(columns, 0)
    frames.add(columns, 7)
    assert [len(cells) for cells in frames._cells] == [columns.shape[0] * columns.shape[1], 0]
    assert frames._lines == [0, 7]


def test_a_job_without_a_model_is_signed_as_before_and_says_why_nothing_was_removed(job, owner, client):
    revision = upload(job, by=owner)
    client.force_login(owner)
    page = client.get(revision.get_absolute_url()).content.decode()
    assert "Material removal was not computed." in page
    assert "No model was uploaded." in page
    assert not queries.blocking(revision)
