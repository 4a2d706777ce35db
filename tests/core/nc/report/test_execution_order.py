"""Order of execution within a block. Facts: NISTIR 6556, 3.8 and Table 8."""

import pytest

from tests.core.nc.reading_help import ends, run


def test_the_spindle_stops_before_the_move_of_its_block():
    assert run("G1 X1 M5").motions.spindle.tolist() == [0]


def test_a_program_ends_after_the_move_of_its_block():
    program = run("G0 X1 M30\nX2")
    assert ends(program) == [(1.0, 0.0, 0.0)]
    assert program.program_ends == 2


def test_a_tool_change_comes_before_the_spindle_starts():
    program = run("M4 M6 T1 S4000 F20\nG1 X1")
    assert (program.motions.tool[0], program.motions.spindle[0], program.motions.rpm[0]) == (1, -1, 4000.0)


def test_units_change_before_the_move():
    assert ends(run("G1 X1 G20")) == [(25.4, 0.0, 0.0)]


def test_distance_mode_changes_before_the_move():
    assert ends(run("G0 X5\nX1 G91")) == [(5.0, 0.0, 0.0), (6.0, 0.0, 0.0)]


def test_the_dwell_comes_before_the_move():
    program = run("G4 P2 G1 X1")
    assert program.motions.kind.tolist() == [3, 1]
    assert program.motions.dwell_s[0] == 2.0


def test_the_feed_of_a_block_is_that_of_its_move():
    assert run("G1 X1 F250").motions.feed_mm_min.tolist() == [250.0]


def test_a_stop_comes_after_the_move_of_its_block():
    assert run("G0 Z30 M0").stops[0].position == (0.0, 0.0, 30.0)


@pytest.mark.parametrize("end", ["M2", "M30"])
def test_program_end_puts_the_modes_back(end):  # [3.6.1]
    program = run(f"G18 G91 G55 M8\n{end}")
    modes = program.modes_at(3)
    assert (modes.plane, modes.absolute, modes.work_offset) == (17, True, "G54")
    assert (modes.spindle, modes.coolant, modes.motion) == (0, 0, "G1")
