"""Tool, spindle, coolant, stops. Facts: NISTIR 6556, 3.6 and 3.7."""

import pytest

from tests.core.nc.reading_help import run, sole_why


def test_t_selects_and_m6_changes():  # [3.6.3, 3.7.3]
    assert run("T4\nG0 X1\nM6\nG0 X2").motions.tool.tolist() == [0, 4]


def test_a_tool_change_stops_the_spindle_and_leaves_the_coolant():  # [3.6.3]
    motions = run("M8\nT1 M6\nG0 X1").motions
    assert (motions.spindle[0], motions.coolant[0]) == (0, 2)


def test_t0_m6_empties_the_spindle():  # [3.6.3]
    assert run("T1 M6\nT0 M6\nG0 X1").motions.tool.tolist() == [0]


def test_tools_are_listed_in_order_of_use():
    assert run("T3 M6\nG0 X1\nT1 M6\nG0 X2\nT3 M6\nG0 X3").tools == (3, 1)


def test_a_speed_may_not_be_negative():  # [3.7.2]
    assert "negative" in sole_why(run("S-1"))


def test_m3_with_s0_is_legal():  # [3.6.2]
    program = run("S0 M3\nG0 X1")
    assert not program.unread
    assert program.motions.rpm.tolist() == [0.0]


@pytest.mark.parametrize("kind", ["M00", "M01", "M60"])
def test_stops_are_listed_with_what_still_runs(kind):  # [3.6.1]
    stop = run(f"M8\nG0 Z50\n{kind} (turn the part)").stops[0]
    assert (stop.line, stop.kind, stop.text) == (4, kind, "turn the part")
    assert (stop.spindle_on, stop.coolant_on) == (True, True)


def test_the_comment_before_a_stop_is_its_message():
    assert run("G0 Z5\n(MSG, check the size)\nM0").stops[0].text == "MSG, check the size"


def test_reading_ends_with_the_program():  # [3.6.1]
    program = run("M2\nG0 X1")
    assert not len(program.motions)
    assert [(entry.code, entry.line) for entry in program.assumptions] == [("not-run", 3)]


def test_a_program_without_end_says_so():
    assert run("G0 X1").program_ends is None
