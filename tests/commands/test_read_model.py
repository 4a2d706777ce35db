"""The command that reads a model: JSON keys, table, exit status."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.commands.running import run_command

ROOT = Path(__file__).resolve().parents[2]
MODELS = ROOT.parent / "shared" / "models"
KEYS = {
    "schema",
    "unit",
    "solids",
    "bbox_mm",
    "volume_mm3",
    "area_mm2",
    "holes",
    "sharp_edges",
    "pmi",
    "warnings",
}
HOLE_KEYS = {"diameter_mm", "depth_mm", "through", "axis", "position_mm", "countersink_mm", "counterbore_mm"}


def read_outside(*arguments):
    """The command as a person types it: a process of its own, without server or database."""
    command = [sys.executable, "manage.py", "read_model", *map(str, arguments)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)


def read_model(*arguments):
    return run_command("read_model", *arguments)


@pytest.fixture(scope="module")
def part(tmp_path_factory):
    from tests.core.solid import parts

    shape = parts.cut(parts.box(60, 40, 20), parts.drill(10, 12, (30, 20, 20)), parts.countersink(16, 90, (30, 20, 20)))
    return parts.write(shape, tmp_path_factory.mktemp("command") / "part.step", unit="INCH")


def test_json_holds_the_keys_of_the_design(part):
    done = read_outside(part, "--json")
    data = json.loads(done.stdout)
    assert done.returncode == 0 and data.keys() >= KEYS
    assert data["holes"][0].keys() >= HOLE_KEYS
    assert data["sharp_edges"].keys() >= {"count", "length_mm"}
    assert data["pmi"].keys() >= {"dimensions", "tolerances", "datums"}


def test_the_table_shows_size_unit_and_hole(part):
    done = read_model(part)
    assert "60.000 × 40.000 × 20.000 mm" in done.stdout and "inch" in done.stdout
    assert "⌀10.000, 12.000 deep, pointed, point 118°, countersink ⌀16.000 × 90°" in done.stdout


def test_an_unreadable_file_exits_2_with_one_line_that_names_it(tmp_path):
    path = tmp_path / "part.step"
    path.write_bytes(b"%PDF-1.7\n")
    done = read_model(path, "--json")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1 and str(path) in done.stderr and "PDF" in done.stderr


def test_one_solid_of_several_can_be_named():
    if not MODELS.is_dir():
        pytest.skip("the folder ../shared/models with real part models is not here")
    data = json.loads(read_model(MODELS / "box_sides.STEP", "--json", "--solid", "2").stdout)
    assert data["chosen_solid"] == 2 and data["bbox_mm"] == data["solids"][2]["bbox_mm"]
