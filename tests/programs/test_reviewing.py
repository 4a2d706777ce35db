"""Reviews of whole files: the ones in ../shared/programs that others wrote, and files that are large or no programs."""

from pathlib import Path

import pytest

from shopflow.core.review import PlanFacts
from shopflow.programs import drawing, reviewing, typed
from shopflow.programs.inputs import Inputs
from shopflow.records import cache
from shopflow.records.canonical import canonical

PROGRAMS = Path(__file__).resolve().parents[3] / "shared" / "programs"
FILES = sorted(path for path in PROGRAMS.glob("*") if path.suffix in (".nc", ".ngc", ".gcode"))
INPUTS = Inputs("0" * 64, {}, None, (), {}, PlanFacts(), ((1, 1), (2, 2)))


def review(data, inputs=INPUTS):
    return reviewing.review(inputs, data, drawing_key="key", progress=lambda percent, step: None)


@pytest.mark.skipif(not FILES, reason="the folder ../shared/programs is not here")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_a_program_of_others_is_reviewed_to_a_result_that_can_be_kept(path):
    result = review(path.read_bytes())
    assert result["reading"]["lines"] == len(path.read_bytes().splitlines())
    assert canonical(typed.plain(result))  # no NaN and nothing infinite


def test_the_seconds_of_the_sections_add_up_to_the_cycle_time():
    result = review(b"G21 G90\nT1 M6\nG0 X0 Y0 Z0\nG1 X100 F500\nT2 M6\nG1 X0\nG55 G1 X7\nM30\n")["reading"]
    assert sum(section["seconds"] for section in result["sections"]) == pytest.approx(result["cycle_s"])


def test_a_section_ends_where_tool_or_work_offset_changes():
    result = review(b"G21 G90\nT1 M6\nG0 X0 Y0 Z0\nG1 X100 F500\nT2 M6\nG1 X0\nG55 G1 X7\nM30\n")["reading"]
    assert [(s["tool"], s["offset"]) for s in result["sections"]] == [(1, 1), (2, 1), (2, 2)]


def test_a_section_belongs_to_the_setup_of_its_work_offset():
    result = review(b"G21 G90\nT1 M6\nG0 X0\nG55 G0 X7\nM30\n")["reading"]
    assert [section["setup"] for section in result["sections"]] == [1, 2]


def test_a_renumbered_program_moves_alike():
    plain = b"G21 G90\nG0 X0 Y0 Z0\nG1 X100 F500\nM30\n"
    numbered = b"N10 G21 G90\n\nN20 G0 X0 Y0 Z0\nN30 G1 X100 F500 (cut)\nN40 M30\n"
    assert review(plain)["motions_sha256"] == review(numbered)["motions_sha256"]


@pytest.mark.parametrize(
    "other",
    [b"G1 X101 F500", b"G1 X100 F400", b"G0 X100"],
    ids=["another place", "another feed", "a rapid"],
)
def test_a_changed_motion_moves_otherwise(other):
    plain = b"G21 G90\nG0 X0 Y0 Z0\nG1 X100 F500\nM30\n"
    assert review(plain)["motions_sha256"] != review(plain.replace(b"G1 X100 F500", other))["motions_sha256"]


def test_a_program_without_motions_is_a_finding():
    assert "no-motion" in [finding["code"] for finding in review(b"(only a comment)\nM30\n")["findings"]]


def test_the_drawing_is_put_into_the_cache():
    review(b"G21 G90\nG0 X0 Y0 Z0\nG1 X100 F500\nM30\n")
    assert cache.read(drawing.key("key", 1))[:4] == b"SFP1"


def test_a_million_lines_are_reviewed_to_an_end():
    data = b"G21 G90\nG0 X0 Y0 Z0\nG1 X0 F500\n" + b"X1.5\nX0.5\n" * 500_000 + b"M30\n"
    assert review(data)["reading"]["motions"]["feed"] > 900_000
