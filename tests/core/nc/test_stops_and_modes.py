"""Stops measured above the cut, and what is in force at a line."""

import math

import pytest

from shopflow.core import nc
from shopflow.core.types import Coolant
from tests.core.nc.reading_help import CALCULATOR, run, sample


@pytest.mark.parametrize(
    ("way", "height"),
    [
        ("G0 Z5\nG1 Z-2\nG0 Z30", 32.0),  # plunged only: the bottom is what was cut
        ("G0 Z5\nG1 Z-2\nX9\nG0 Z30", 32.0),
        ("G0 Z5\nG1 Z0\nX9\nZ-2\nX3\nG0 Z30", 30.0),  # the highest pass counts
        ("G0 Z5\nG1 X9 Z-2\nG0 Z30", 25.0),  # a ramp cuts from where it begins
        ("G0 Z5\nG1 Z-2\nX9", 0.0),
        ("G0 Z5\nG1 Z-2\nX9\nG1 Z1", 3.0),  # a feed straight up leaves the cut
        ("G0 X1\nG28", math.inf),
        ("G0 Z5\nG1 Z-2\nG53 G0 Z0\nG0 X5", math.inf),  # still home after a move across
        ("T1 M6", math.inf),
    ],
)
def test_a_stop_knows_how_far_the_tool_stands_above_everything_cut(way, height):
    stop = run(f"{way}\nM0").stops[0]
    assert stop.height_mm == pytest.approx(height)
    assert stop.retracted is (height > 0)


def test_a_stop_at_an_unknown_height_is_not_retracted():
    stop = run("G0 Z5\nG1 Z-2\nX5\nG43 H3\nM0").stops[0]
    assert math.isnan(stop.height_mm)
    assert not stop.retracted


def test_a_tool_change_retracts_where_the_control_does_so():
    assert run("G0 Z5\nG1 Z-2\nT1 M6\nM0", CALCULATOR).stops[0].retracted
    assert not run("G0 Z5\nG1 Z-2\nT1 M6\nM0").stops[0].retracted


def test_modes_can_be_asked_for_at_any_line():
    program = nc.read(sample("plate_two_sides.nc"), control=CALCULATOR)
    modes = program.modes_at(21)
    assert program.text(21).startswith("N160")
    assert (modes.tool, modes.length_offset, modes.work_offset, modes.rpm) == (2, 1, "G54", 1500.0)
    assert (modes.spindle, modes.coolant, modes.motion, modes.absolute) == (1, Coolant.OFF, "G0", True)
    assert program.modes_at(23).motion == "G83"


def test_modes_in_a_subprogram_are_those_of_its_first_run():
    program = nc.read(sample("plate_two_sides.nc"), control=CALCULATOR)
    inside = next(line for line in range(1, program.lines) if program.text(line).startswith("N520"))
    modes = program.modes_at(inside)
    assert (modes.work_offset, modes.tool, modes.feed_mm_min) == ("G55", 1, 600.0)


def test_modes_of_a_line_that_does_not_run_are_those_before_it():
    program = run("G91\nM30\nG90")
    assert program.modes_at(4) == program.modes_at(3)


def test_the_extent_reaches_as_far_as_the_arcs():
    extent = run("G0 X10 Y0 Z1\nG3 X-10 Y0 I-10 F100").extent
    assert extent.low == (-10.0, 0.0, 1.0)
    assert extent.high == pytest.approx((10.0, 10.0, 1.0))


def test_an_axis_that_is_never_stated_has_no_extent():
    extent = run("G0 X1 Y2").extent
    assert extent.low[:2] == (1.0, 2.0)
    assert math.isnan(extent.low[2])


def test_a_program_that_goes_nowhere_has_no_extent():
    assert run("M5").extent is None


def test_lengths_count_arcs_and_helices_along_the_path():
    program = run("G0 X10 Y0 Z0\nG3 X10 Y0 I-10 Z3\nG1 X7")
    assert program.cut_length_mm == pytest.approx(math.hypot(20 * math.pi, 3) + 3)


def test_an_axis_whose_start_is_assumed_counts_no_length():
    assert run("G0 X100 Y100\nX103 Y104").rapid_length_mm == pytest.approx(5.0)
