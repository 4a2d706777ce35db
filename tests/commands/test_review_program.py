"""The command that reviews a program: JSON keys, exit status, the README's example."""

import csv
import json
import math
import re
import shutil
from pathlib import Path

import pytest

from tests.commands.running import run_command

ROOT = Path(__file__).resolve().parents[2]
SEED = ROOT / "seed_data"
KEYS = {"findings", "removed_mm3", "stock_left_mm", "gouge_mm", "air_cuts", "cycle_time_s", "grid_mm"}
FINDING_KEYS = {"code", "weight", "lines", "tool", "measured", "limit", "unit", "message"}
COLUMNS = {
    "number": "number", "name": "name", "shape": "shape", "diameter": "diameter_mm", "material": "material",
    "point_angle": "point_angle_deg", "flute_length": "flute_length_mm", "stickout": "stickout_mm", "uses": "uses",
    "through_coolant": "through_coolant", "flutes": "flutes",
}  # fmt: skip
MILLIMETRE_TOOLS = range(1, 15)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The README's example with the demo's model, program and tools beside it."""
    made = tmp_path_factory.mktemp("readme")
    (example,) = re.findall(r"```toml\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    (made / "SETUP.toml").write_text(example)
    shutil.copy(SEED / "models" / "MB-31.step", made)
    for name in ("MB-31.nc", "MB-31-mended.nc"):
        shutil.copy(SEED / "programs" / name, made)
    with (SEED / "tools.csv").open() as table, (made / "tools.csv").open("w", newline="") as out:
        writer = csv.DictWriter(out, COLUMNS.values())
        writer.writeheader()
        for row in csv.DictReader(table):
            if int(row["number"]) in MILLIMETRE_TOOLS:
                writer.writerow({to: row[name].removesuffix(" mm") for name, to in COLUMNS.items()})
    return made


def review(folder, program, *more):
    return run_command("review_program", folder / program, "--setup", folder / "SETUP.toml", *more)


@pytest.fixture(scope="module")
def faulty(folder):
    return review(folder, "MB-31.nc", "--json")


def test_the_example_of_the_readme_reviews_the_demos_program(faulty):
    assert (faulty.returncode, faulty.stderr) == (1, "")
    found = [(one["code"], one["weight"]) for one in json.loads(faulty.stdout)["findings"]]
    assert {("plunge-too-deep", "must-fix"), ("no-stop", "must-fix")} == {one for one in found if one[1] == "must-fix"}


def test_json_holds_the_keys_of_the_design(faulty):
    said = json.loads(faulty.stdout)
    assert set(said) >= KEYS
    assert all(set(one) >= FINDING_KEYS for one in said["findings"])
    assert said["gouge_mm"] == pytest.approx(0.0, abs=0.01) and said["stock_left_mm"] == pytest.approx(0.0, abs=0.01)


def test_what_is_removed_is_the_holes_less_what_they_share(faulty):
    """Ports 12 × 12, 5 mm holes 34 deep below the top and an 8 mm hole 52 deep, points beside: at most their sum."""
    ports, holes = 2 * math.pi / 4 * 12**2 * 12, 2 * math.pi / 4 * 5**2 * (34 - 12)
    points = math.pi / 3 * (2 * 2.5**2 * 1.5 + 4**2 * 1.456)
    most = ports + holes + math.pi / 4 * 8**2 * 52 + points
    shared = 2 * math.pi / 4 * 5**2 * 8
    assert most - shared < json.loads(faulty.stdout)["removed_mm3"] < most


def test_the_mended_program_exits_with_0_and_says_that_this_is_no_promise(folder):
    done = review(folder, "MB-31-mended.nc")
    assert (done.returncode, done.stderr) == (0, "")
    assert "must-fix" not in done.stdout and "does not say that the program is safe" in done.stdout


def test_a_word_that_is_not_read_exits_with_1(folder, tmp_path):
    shutil.copytree(folder, tmp_path / "set")
    text = (folder / "MB-31-mended.nc").read_text().replace("M30", "M777\nM30")
    (tmp_path / "set" / "MB-31-mended.nc").write_text(text)
    assert review(tmp_path / "set", "MB-31-mended.nc").returncode == 1


@pytest.mark.parametrize("lacks", ["MB-31.nc", "MB-31.step", "tools.csv", "SETUP.toml"])
def test_what_cannot_be_read_exits_with_2_and_one_line(folder, tmp_path, lacks):
    shutil.copytree(folder, tmp_path / "set")
    (tmp_path / "set" / lacks).unlink()
    done = review(tmp_path / "set", "MB-31.nc")
    assert done.returncode == 2 and done.stdout == "" and done.stderr.strip().count("\n") == 0


def test_a_part_that_is_its_own_blank_has_nothing_left_to_take(folder):
    text = (folder / "SETUP.toml").read_text()
    own, count = re.subn(r"\[blank\].*?\n\n", '[blank]\nmodel = "MB-31.step"\n\n', text, flags=re.DOTALL)
    assert count == 1
    (folder / "own.toml").write_text(own)
    done = run_command("review_program", folder / "MB-31-mended.nc", "--setup", folder / "own.toml", "--json")
    assert json.loads(done.stdout)["removed_mm3"] == pytest.approx(0.0, abs=30.0)


def test_a_blanks_model_that_is_not_there_is_named(folder):
    text = (folder / "SETUP.toml").read_text()
    (folder / "gone.toml").write_text(re.sub(r"largest_mm.*\nsmallest_mm.*\n", 'model = "gone.step"\n', text))
    done = run_command("review_program", folder / "MB-31-mended.nc", "--setup", folder / "gone.toml")
    assert done.returncode == 2 and "gone.step" in done.stderr
