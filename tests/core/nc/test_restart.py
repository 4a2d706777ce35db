"""Where a tool may be started again, and the parts of a program."""

import pytest

from shopflow.core import nc
from shopflow.core.nc.restart import parts, restarts
from tests.core.nc.reading_help import CALCULATOR, run, sample


@pytest.fixture(scope="module")
def bracket():
    return nc.read(sample("bracket_plunged.nc"), control=CALCULATOR)


def test_each_tool_change_is_a_restart_with_its_first_cut(bracket):
    assert [(restart.line, restart.tool, restart.first_cut) for restart in restarts(bracket)] == [
        (4, 5, 7),
        (15, 6, 18),
    ]


def test_what_the_lines_behind_do_not_set_must_be_set(bracket):
    first, second = restarts(bracket)
    assert dict(first.must_set) == {"units": "G20", "plane": "G17", "distance": "G90", "feed mode": "G94"}
    assert dict(second.must_set) == dict(first.must_set)


def test_offset_length_spindle_and_coolant_are_named_where_they_come_from_before():
    program = run("T1 M6\nG55 G43 H1 G0 Z50\nM8\nT2 M6\nG0 X1\nG1 X2", CALCULATOR)
    assert dict(restarts(program)[1].must_set)["work offset"] == "G55"
    assert dict(restarts(program)[1].must_set)["length offset"] == "G43 H1"
    assert dict(restarts(program)[1].must_set)["coolant"] == "M08"


def test_everything_that_holds_at_the_first_cut_is_named_whoever_sets_it():
    program = run("G21 G17\nT1 M6\nG55 G43 H1 S900 M3\nG1 X1 F10\nM5 M9\nT2 M6 (drill)\nG0 X2\nG1 X3", CALCULATOR)
    first, second = restarts(program)
    shared = {"units": "G21", "plane": "G17", "distance": "G90", "feed mode": "G94", "work offset": "G55",
              "length offset": "G43 H1", "coolant": ""}  # fmt: skip
    assert dict(first.holds) == shared | {"spindle": "S900 M03"}
    assert dict(second.holds) == shared | {"spindle": ""}
    assert {name for name, _ in first.must_set} == {"units", "plane", "distance", "feed mode"}
    assert second.text == "T2 M6 (drill)"


def test_a_program_with_subprograms_names_none():
    assert restarts(nc.read(sample("plate_two_sides.nc"), control=CALCULATOR)) == ()


def test_parts_end_at_stops_and_the_program_end():
    program = nc.read(sample("plate_two_sides.nc"), control=CALCULATOR)
    found = parts(program)
    assert [(part.first, part.last) for part in found] == [(1, 42), (43, 53)]
    assert found[0].tools == (1, 2, 3)
    assert found[0].work_offsets == (1,)


def test_a_person_may_name_further_places(bracket):
    assert [(part.first, part.last) for part in parts(bracket, also_after=frozenset({9}))] == [
        (1, 9),
        (10, 14),
        (15, 22),
    ]


def test_two_vises_in_one_load_stay_one_part():
    program = run("G0 X1\nG55 X1\nG54 X2\nG55 X2\nM30", CALCULATOR)
    assert [part.work_offsets for part in parts(program)] == [(1, 2)]


def test_a_part_holds_the_motions_of_the_subprograms_that_it_calls():
    text = "O1\nG21 G90 G54\nT1 M6\nG0 X1.\nM0\nM98 P2\nM30\nO2\nG0 X5.\nX6.\nM99"
    first, second = parts(nc.read(text.encode(), control=CALCULATOR))
    assert (first.rows, second.rows) == ((0, 1), (1, 3))
    assert (second.first, second.last) == (6, 7)
