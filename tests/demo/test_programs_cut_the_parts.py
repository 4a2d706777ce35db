"""The demo's programs against the demo's models: what they leave is the part, and no rapid touches material.

The models are made by seed_data/make_parts.py, the programs are written by hand; neither knows of the other.
"""

from pathlib import Path

import pytest

from shopflow.core.nc import CONTROLS, read
from shopflow.shop import csv_files, queries
from shopflow.shop.tables import TABLES
from tests.demo.cutting import Field, Part, differences

SEED = Path(__file__).resolve().parents[2] / "seed_data"


def from_above(x, y, z):
    return x, y, z


def turned_over(thickness):
    """Turned over about X, zero on the finished bottom face."""
    return lambda x, y, z: (x, -y, -z - thickness)


def on_its_end(x, y, z):
    """The end at +X faces up: X of the setup is the part's Y, Y is its Z, zero on the end face."""
    return z + 30.0, x, y


# program, work offset, blank (x, y, middle of y), top of the blank, model, view, floor: what lies below is held or open
CUTS = {
    "BK-104-1": (1, (84, 64, 0), 1.0, "BK-104", from_above, -20.0),
    "BK-104-2": (1, (84, 64, 0), 9.0, "BK-104", turned_over(20.0), -0.01),
    "CV-220-1": (1, (105, 105, 0), 1.0, "CV-220", from_above, -12.0),
    "CV-220-2": (1, (105, 105, 0), 7.0, "CV-220", turned_over(12.0), -0.01),
    "MB-31": (1, (60, 50, 0), 0.0, "MB-31", from_above, -40.0),
    "MB-31 on its end": (2, (50, 40, -20), 0.0, "MB-31", on_its_end, -60.0),
}


def load(key, name, by):
    reading = csv_files.read(TABLES[key], (SEED / name).read_text())
    assert reading.is_all_good
    csv_files.apply(reading, by=by)


@pytest.fixture
def tools(lead):
    load("holders", "holders.csv", lead)
    load("crib", "tools.csv", lead)
    return queries.core_tools()


@pytest.fixture
def cut(tools):
    def make(name):
        work_offset, blank, top, *_ = CUTS[name]
        program = read((SEED / "programs" / f"{name.split()[0]}.nc").read_bytes(), control=CONTROLS["calculator"])
        field = Field(blank, top=top)
        field.cut(program.motions, tools, work_offset)
        return field

    return make


@pytest.mark.parametrize("name", CUTS)
def test_what_a_program_leaves_is_the_part(cut, name):
    *_, model, view, floor = CUTS[name]
    left, gouged = differences(cut(name), Part(SEED / "models" / f"{model}.step", view), floor=floor)
    assert (round(left, 2), round(gouged, 2)) == (0.0, 0.0)


@pytest.mark.parametrize("name", CUTS)
def test_no_rapid_of_a_program_touches_material(cut, name):
    assert cut(name).hit_by_rapid == []


@pytest.mark.parametrize("path", sorted((SEED / "programs").glob("*.nc")), ids=lambda path: path.stem)
@pytest.mark.parametrize("control", ["calculator", "increment"])
def test_every_word_of_a_program_is_read(path, control):
    assert read(path.read_bytes(), control=CONTROLS[control]).unread == ()
