"""A slanted hole from the model to the material: planned in a tilted clamping, exported, read back, cut, compared.

The part is 60 x 40 x 20 with one blind hole of 8 mm, 14 mm deep along its axis, 30 degrees from +Z towards +X, in the
middle of the top; the program is written from the numbers that the plan gives.
"""

import math
from dataclasses import replace

import pytest

from shopflow.core import solid
from shopflow.core.review.setup_file import read_setup_file
from shopflow.core.review.whole import review_whole
from shopflow.jobs import actions as job_actions
from shopflow.jobs import queries as jobs
from shopflow.programs.models import ProgramRevision
from shopflow.programs.setup_export import setup_files
from tests.core.solid import parts
from tests.jobs.objects import a_job, a_machine, a_material, a_tool, read_now
from tests.people_fixtures import make_person
from tests.programs.objects import everyone_at_once, upload

pytestmark = pytest.mark.django_db
MEMORY = 800_000
DEGREES, WIDE, DEEP = 30.0, 8.0, 14.0
WAY = (math.sin(math.radians(DEGREES)), 0.0, math.cos(math.radians(DEGREES)))
DOWN = tuple(-part for part in WAY)
SEAT = WIDE * math.tan(math.radians(DEGREES)) / 2
"""How far below the middle of the mouth the slope has fallen at the hole's wall."""


def the_part():
    top = (30.0, 20.0, 20.0)
    start = tuple(a + 10.0 * b for a, b in zip(top, WAY, strict=True))
    return parts.cut(parts.box(60, 40, 20), parts.drill(WIDE, 10.0 + DEEP, start, DOWN))


def program(at, *, seat=SEAT, deep=DEEP):
    """A seat with a 6 mm mill that goes round in the hole, then the drill. at: the mouth from the part zero."""
    x, y, z = at
    turn = f"G3 X{x + 1:.3f} Y{y:.3f} I-1. J0. Z"
    falls = [z + SEAT + 2 - step * (2 * SEAT + 2) / 8 for step in range(1, 8)]
    return "\n".join([
        "%", "O1003 (TILTED)", "G21 G17 G90 G40 G80", "T3 M6",
        f"G56 G0 X{x + 1:.3f} Y{y:.3f} S6000 M3", "G43 H3 Z40. M8", f"Z{z + SEAT + 2:.3f}", "F300.",
        *(f"{turn}{fall:.3f}" for fall in falls), f"{turn}{z - seat:.3f}", f"{turn}{z - seat:.3f}", "G0 Z40. M9", "M5",
        "T4 M6", f"G56 G0 X{x:.3f} Y{y:.3f} S1500 M3", "G43 H4 Z40. M8",
        f"G73 Z{z - deep - WIDE / 2 / math.tan(math.radians(59)):.3f} R{z + SEAT + 2:.3f} Q4. F150.", "G80",
        "G0 Z40. M9", "M5", "G53 G0 Z0.", "M30", "%", "",
    ])  # fmt: skip


@pytest.fixture(scope="module")
def reading(tmp_path_factory):
    return solid.read(parts.write(the_part(), tmp_path_factory.mktemp("tilted") / "part.step"), deflection_mm=0.01)


@pytest.fixture(scope="module")
def exported(rows_of_the_file, reading, tmp_path_factory):
    """(where the middle of the mouth lies from the part zero of the plan, what the exported setup file says)."""
    owner = everyone_at_once(make_person("the_owner"))
    a_machine()
    a_tool(2, "end mill", "flat end mill", "12 mm")
    a_tool(3, "small end mill", "flat end mill", "6 mm", flute_length="18 mm")
    a_tool(4, "drill", "drill", "8 mm", point_angle=118, flute_length="60 mm", stickout="80 mm")
    job = read_now(a_job(owner, material=a_material()), owner, reading)
    job_actions.propose_plan(job, by=owner)
    setup = job.setups.get(slant__gt="")
    revision = upload(job, program((0, 0, 0)).encode(), by=owner, setups=[setup], reviewed=False)
    folder = tmp_path_factory.mktemp("exported")
    for name, data in setup_files(ProgramRevision.objects.get(pk=revision.pk)).items():
        (folder / name).write_bytes(data)
    placed = jobs.placement_of(setup)
    mouth = (30.0, 20.0, 20.0)
    at = [sum(a * b for a, b in zip(placed.rotation[n : n + 3], mouth, strict=True)) for n in (0, 3, 6)]
    return tuple(a + b for a, b in zip(at, placed.origin_mm, strict=True)), read_setup_file(folder / "SETUP.toml")


def reviewed(exported, reading, **changes):
    at, said = exported
    return review_whole(program(at, **changes).encode(), said, reading, memory=MEMORY)


def to_mend(done):
    return [f"{one.code} {one.lines} {one.message}" for one in done.findings if one.weight != "note"]


def test_the_file_says_how_the_part_is_tilted_and_where_its_zero_is(exported):
    (block,) = exported[1].setups
    assert (block.work_offset, block.up, block.along_x) == ("G56", "+Z", "+X")
    assert block.angles_deg == (0.0, -DEGREES, 0.0)


def test_the_mouth_lies_where_the_worked_triangle_puts_it(exported):
    """Right edge and highest edge are the zero: (30 − 60) cos 30° − 20 sin 30° = −35.981 and 30 sin 30° + 20 cos 30°
    − 60 sin 30° − 20 cos 30° = −15."""
    assert exported[0] == pytest.approx((-35.981, 0.0, -15.0), abs=2e-3)


def test_a_program_by_the_plan_s_numbers_has_nothing_to_mend_and_leaves_nothing(exported, reading):
    done = reviewed(exported, reading)
    assert to_mend(done) == []
    assert done.setups[-1].stock_left_mm == 0.0 and done.setups[-1].gouge_mm == 0.0


def test_the_hole_takes_its_volume_out_of_the_block(exported, reading):
    done = reviewed(exported, reading)
    assert done.setups[-1].removed_mm3 == pytest.approx(60 * 40 * 20 - reading.volume_mm3, rel=0.05)


def test_a_hole_drilled_too_deep_is_found(exported, reading):
    assert any(text.startswith("gouge") for text in to_mend(reviewed(exported, reading, deep=DEEP + 1.0)))


def test_a_hole_drilled_too_shallow_is_found(exported, reading):
    done = reviewed(exported, reading, deep=DEEP - 1.5)
    assert "stock-left" in {one.code for one in done.findings}


def test_a_hole_drilled_with_the_part_set_at_another_angle_is_found(exported, reading):
    """Five degrees less than the model's, as with the wrong gauge blocks under the sine bar."""
    at, said = exported
    (block,) = said.setups
    wrong = replace(said, setups=(replace(block, angles_deg=(0.0, 5.0 - DEGREES, 0.0)),))
    assert any(text.startswith("gouge") for text in to_mend(reviewed((at, wrong), reading)))
