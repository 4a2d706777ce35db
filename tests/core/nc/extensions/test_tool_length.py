"""G43.1: the tool's length from the program. Common practice, no source."""

import pytest

from shopflow.core import nc
from tests.core.nc.reading_help import CALCULATOR, run, sole_why

O_WORDS = nc.CONTROLS["o-words"]


def test_a_length_in_the_program_is_the_offset_of_the_tool_in_the_spindle():
    program = run("T4 M6\nS500 M3\nG43.1 Z120.5\nG0 X1 Y1 Z5", O_WORDS)
    assert not program.unread
    assert program.motions.length_offset.tolist() == [4]
    assert program.length_offsets_set == {4}
    assert "length-in-program" in {entry.code for entry in program.assumptions}


def test_the_height_is_not_known_after_it():
    motions = run("G0 X1 Y1 Z5\nG43.1 Z120.5\nX2", O_WORDS).motions
    assert motions.start_known[1].tolist() == [True, True, False]


def test_with_h_it_is_the_offset_of_that_number():
    assert run("G43.1 H7\nG0 Z5", O_WORDS).motions.length_offset.tolist() == [7]


@pytest.mark.parametrize("words", ["", "X1", "X1 Z2"])
def test_without_h_or_z_alone_it_is_told(words):
    assert "Z alone" in sole_why(run(f"G43.1 {words}", O_WORDS))


@pytest.mark.parametrize("control", [nc.PLAIN, CALCULATOR])
def test_it_is_told_where_the_profile_does_not_say_what_it_means(control):
    assert "G43.1 is not a code of this control" in sole_why(run("G43.1 H1", control))
