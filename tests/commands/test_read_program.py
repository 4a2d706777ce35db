"""The command that reads a program: JSON keys, motions, table, exit status."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from shopflow.core import nc
from shopflow.core.types import DecimalRule
from tests.commands.running import run_command

ROOT = Path(__file__).resolve().parents[2]
PROGRAMS = ROOT.parent / "shared" / "programs"
SAMPLES = ROOT / "tests" / "core" / "nc" / "samples"
KEYS = {
    "lines", "units", "motions", "tools", "work_offsets", "stops", "extent_mm", "cut_length_mm", "rapid_length_mm",
    "cycle_time_s", "unread",
}  # fmt: skip


def read_outside(*arguments):
    """The command as a person types it: a process of its own, without server or database."""
    command = [sys.executable, "manage.py", "read_program", *map(str, arguments)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)


def read_program(*arguments):
    return run_command("read_program", *arguments)


@pytest.fixture(scope="module")
def plate():
    return read_outside(SAMPLES / "plate_two_sides.nc", "--control", "calculator", "--json")


def test_a_clean_program_exits_with_0(plate):
    assert plate.returncode == 0, plate.stderr


def test_json_holds_the_keys_of_the_design(plate):
    summary = json.loads(plate.stdout)
    assert set(summary) >= KEYS
    assert summary["motions"].keys() == {"rapid", "feed", "arc", "dwell"}
    assert summary["tools"] == [1, 2, 3]
    assert summary["work_offsets"] == ["G54", "G55"]
    assert summary["stops"] == [{"line": 18, "kind": "M01"}, {"line": 42, "kind": "M00"}]
    assert summary["extent_mm"] == {"min": [-10.0, -10.0, -18.0], "max": [110.0, 70.0, 50.0]}
    assert summary["unread"] == []
    assert summary["cycle_time_s"] > 60


def test_words_not_read_exit_with_1_and_their_lines(tmp_path):
    path = tmp_path / "part.nc"
    path.write_text("G21 G90 G54 G0 X1\nG999 X2\nM30\n")
    done = read_program(path, "--json")
    assert done.returncode == 1
    unread = json.loads(done.stdout)["unread"]
    assert [(entry["line"], entry["text"]) for entry in unread] == [(2, "G999 X2")]
    assert "G999" in unread[0]["why"]


def test_one_json_line_a_motion():
    done = read_program(SAMPLES / "bracket_plunged.nc", "--control", "calculator", "--motions")
    rows = [json.loads(line) for line in done.stdout.splitlines()]
    assert done.returncode == 0
    assert {"line", "kind", "from", "to", "feed_mm_min", "spindle_rpm", "tool"} <= rows[0].keys()
    assert (rows[0]["line"], rows[0]["kind"], rows[0]["tool"]) == (5, "rapid", 5)
    assert rows[4]["to"] == pytest.approx([12.7, 12.7, -27.94])


def test_arcs_have_centre_plane_and_turn(tmp_path):
    path = tmp_path / "arc.nc"
    path.write_text("G21 G17 G90 G54 F100 G0 X1 Y0\nG3 X0 Y1 I-1\nM30\n")
    arc = json.loads(read_program(path, "--motions").stdout.splitlines()[1])
    assert (arc["centre"][:2], arc["plane"], arc["turn"]) == ([0.0, 0.0], "G17", pytest.approx(90.0))


@pytest.mark.parametrize("data", [b"", b"G0 X1\n\x00\x01", b"%PDF-1.7"])
def test_what_is_no_program_exits_with_2_and_one_sentence(tmp_path, data):
    path = tmp_path / "part.nc"
    path.write_bytes(data)
    done = read_program(path)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert "Choose the NC program" in done.stderr


def test_a_file_of_a_control_profile_says_how_a_program_is_read(tmp_path):
    counted = replace(nc.CONTROLS["calculator"], name="ours", decimal_rule=DecimalRule.INCREMENT)
    profile = tmp_path / "ours.control.json"
    profile.write_text(nc.write_control(counted, based_on="calculator"))
    path = tmp_path / "part.nc"
    path.write_text("O1\nG21 G90 G54 G0 X1000 Y0\nX2000\nM30\n")
    done = read_program(path, "--json", "--control", profile)
    assert (done.returncode, json.loads(done.stdout)["extent_mm"]["max"][0]) == (0, 2.0)


def test_a_control_profile_that_is_neither_known_nor_a_file_exits_with_2():
    done = read_program(SAMPLES / "bracket_plunged.nc", "--control", "nobody")
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert "neither a control profile (plain, calculator, increment, o-words) nor a file" in done.stderr


def test_a_control_profile_that_cannot_be_read_exits_with_2_and_names_the_setting(tmp_path):
    profile = tmp_path / "ours.control.json"
    profile.write_text(nc.write_control(nc.PLAIN, based_on="plain").replace('"macros": false', '"macros": "some"'))
    done = read_program(SAMPLES / "bracket_plunged.nc", "--control", profile)
    assert done.returncode == 2
    assert "ours.control.json" in done.stderr
    assert "macros" in done.stderr


def test_a_file_that_is_not_there_exits_with_2(tmp_path):
    done = read_outside(tmp_path / "none.nc")
    assert done.returncode == 2
    assert "No such file" in done.stderr


def test_a_tool_table_names_the_tools_that_are_missing(tmp_path):
    table = tmp_path / "tools.csv"
    table.write_text("number,name,shape,diameter_mm\n5,drill,drill,5.105\n")
    done = read_program(SAMPLES / "bracket_plunged.nc", "--control", "calculator", "--tools", table)
    assert done.returncode == 1
    assert "T6 is not in the crib" in done.stdout


def test_a_tool_table_that_cannot_be_read_exits_with_2(tmp_path):
    table = tmp_path / "tools.csv"
    table.write_text("number,colour\n5,red\n")
    done = read_program(SAMPLES / "bracket_plunged.nc", "--tools", table)
    assert done.returncode == 2
    assert "colour" in done.stderr or "lacks" in done.stderr


def test_the_table_shows_what_was_read():
    done = read_program(SAMPLES / "plate_two_sides.nc", "--control", "calculator")
    assert "T1, T2, T3" in done.stdout
    assert "TURN THE PART OVER" in done.stdout


def test_every_program_of_other_people_is_read_or_refused_with_a_reason():
    if not PROGRAMS.is_dir():
        pytest.skip("the folder ../shared/programs with programs of other people is not here")
    files = sorted(path for path in PROGRAMS.iterdir() if path.suffix in {".ngc", ".nc", ".gcode"})
    assert len(files) == 16
    for path in files:
        summary = json.loads(read_program(path, "--json").stdout)
        assert sum(summary["motions"].values()) > 0
        assert all(entry["line"] and entry["why"] for entry in summary["unread"])


def test_the_cycle_time_says_that_it_leaves_out_moves_without_a_feed(tmp_path):
    program = tmp_path / "no_feed.nc"
    program.write_text("G21 G17 G90 G54\nG1 X5.\nX9.\nM30\n")
    said = read_program(program).stdout
    assert "without 2 moves that have no feed" in said
