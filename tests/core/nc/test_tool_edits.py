"""Proposed edits about tools: each changes what it says, in the program's own style, and nothing else."""

import numpy as np
import pytest

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.core.nc import tool_edits
from shopflow.core.nc.word_edits import change_words, in_style
from shopflow.core.types import Coolant, MotionKind
from tests.core.nc.reading_help import CALCULATOR, run, sample


@pytest.fixture(scope="module")
def bracket():
    return nc.read(sample("bracket_plunged.nc"), control=CALCULATOR)


@pytest.fixture(scope="module")
def plate():
    return nc.read(sample("plate_two_sides.nc"), control=CALCULATOR)


def changed_lines(before, edited):
    return [line for line in range(1, before.lines + 1) if before.text(line) != edited.after.text(line)]


def test_the_feeds_of_one_tool_are_scaled(bracket):
    edited = tool_edits.scale_feed(bracket, 6, 0.5)
    assert changed_lines(bracket, edited) == [18]
    assert edited.after.text(18) == "N16 G01 Z-.2 F1.5"
    with_other = bracket.motions.tool == 5
    assert np.array_equal(
        bracket.motions.feed_mm_min[with_other], edited.after.motions.feed_mm_min[with_other], equal_nan=True
    )


def test_the_speed_of_one_tool_is_set(bracket):
    edited = tool_edits.set_speed(bracket, 5, 900)
    assert edited.after.text(5) == "N3 G00 G54 X.5 Y.5 S900 M03"
    assert set(edited.after.motions.rpm[bracket.motions.tool == 5]) == {900.0}


def test_h_is_corrected(bracket):
    wrong = nc.read(sample("bracket_plunged.nc").replace(b"H6", b"H16"), control=CALCULATOR)
    edited = tool_edits.correct_length_offset(wrong, 17, 6)
    assert edited.data == sample("bracket_plunged.nc")


def test_t_and_h_are_renumbered_together(plate):
    edited = tool_edits.renumber(plate, {1: 11, 3: 1})
    assert edited.after.tools == (11, 2, 1)
    assert edited.after.text(6) == "N20 T11 M06"
    assert edited.after.text(8) == "N40 G43 H11 Z50. M08"
    assert edited.after.text(33) == "N270 G43 H1 Z25."


def test_h_keeps_its_shift_by_the_house_rule():
    program = run("T1 M6\nG43 H21 G0 Z5\nG0 X1", CALCULATOR)
    assert tool_edits.renumber(program, {1: 7}, shift=20).after.text(3) == "G43 H27 G0 Z5"


def test_a_tool_that_the_program_does_not_use_is_not_renumbered(plate):
    with pytest.raises(NotPossible, match="does not use T77"):
        tool_edits.renumber(plate, {77: 4})


@pytest.mark.parametrize("numbers", [{1: 5, 2: 5}, {1: 2}, {99: 98}])
def test_numbers_that_clash_are_refused(plate, numbers):
    with pytest.raises(NotPossible):
        tool_edits.renumber(plate, numbers)


def test_a_tool_that_runs_with_an_offset_not_its_own_is_not_renumbered():
    with pytest.raises(NotPossible, match="T1 runs with H21 where it would be H1"):
        tool_edits.renumber(run("T1 M6\nG43 H21 G0 Z5\nG1 X1", CALCULATOR), {1: 7})


def test_tools_beyond_the_carousel_get_the_lowest_free_pockets():
    program = run("T1 M6\nG0 X1\nT31 M6\nG0 X2\nT3 M6\nG0 X3\nT40 M6\nG0 X4", CALCULATOR)
    numbers = tool_edits.carousel_numbers(program, 20)
    assert numbers == {31: 2, 40: 4}
    assert tool_edits.renumber(program, numbers).after.tools == (1, 2, 3, 4)
    with pytest.raises(NotPossible, match="3 pockets"):
        tool_edits.carousel_numbers(program, 3)


def test_pockets_that_hold_other_tools_are_taken_last():
    program = run("T31 M6\nG0 X1\nT40 M6\nG0 X2", CALCULATOR)
    assert tool_edits.carousel_numbers(program, 3, others={1, 3}) == {31: 2, 40: 1}


def test_coolant_is_put_on_and_off_again(bracket):
    edited = tool_edits.coolant_on(bracket, 6)
    motions = edited.after.motions
    wet = motions.coolant[(motions.tool == 6) & (motions.spindle != 0)]
    assert set(wet.tolist()[1:]) == {int(Coolant.FLOOD)}
    assert motions.coolant[-1] == 0


def test_coolant_that_is_on_already_is_refused(bracket):
    with pytest.raises(NotPossible):
        tool_edits.coolant_on(bracket, 5)


def test_lines_are_taken_out(bracket):
    edited = tool_edits.remove_lines(bracket, 8, 8)
    assert len(edited.after.motions) == len(bracket.motions) - 3
    assert b"X1.5" not in edited.data


@pytest.mark.parametrize("span", [(4, 4), (6, 6), (22, 22), (0, 1), (9, 5), (24, 99)])
def test_lines_on_which_others_rest_are_not_taken_out(bracket, span):
    with pytest.raises(NotPossible):
        tool_edits.remove_lines(bracket, *span)


@pytest.mark.parametrize(
    ("old", "value", "new"),
    [
        ("4.8", 2.4, "2.4"), ("4.80", 2.4, "2.40"), ("300.", 150.0, "150."), ("300.", 150.5, "150.5"),
        (".5", 0.25, ".25"), ("0.5", 0.25, "0.25"), ("1200", 900.0, "900"), ("02", 7.0, "07"),
        ("-.5", -0.25, "-.25"),
    ],
)  # fmt: skip
def test_numbers_keep_the_style_of_the_old_one(old, value, new):
    assert in_style(old, value) == new


def test_a_fraction_is_not_written_without_a_point():
    with pytest.raises(NotPossible):
        in_style("300", 150.5)


def test_comments_and_variables_are_left_alone():
    text = "G1 F100 (F200) X[#5] F#1 ; F3"
    assert change_words(text, "F", lambda value: value * 2) == "G1 F200 (F200) X[#5] F#1 ; F3"


TWO_FEEDS = "G21 G94 G90 G54\nT1 M6\nG0 X0 Y0 S9000 M3\nG43 H1 Z5.\nG1 Z-1. F200\nX40. F1234.5\nG0 Z5. M5"


def test_only_feeds_over_a_limit_come_down_to_it():
    edited = tool_edits.limit_feed(run(TWO_FEEDS, CALCULATOR), 1, 1000.0)
    assert [edited.after.text(line) for line in (6, 7)] == ["G1 Z-1. F200", "X40. F1000.0"]


def test_a_limit_in_inches_is_never_written_a_digit_over_it():
    edited = tool_edits.limit_feed(run("G20 G94 G54\nT1 M6\nG43 H1 Z5. S90 M3\nG1 X4. F100.", CALCULATOR), 1, 1000.0)
    assert edited.after.text(5) == "G1 X4. F39.37"


def test_a_limit_that_no_feed_is_over_is_refused():
    with pytest.raises(NotPossible, match="no F of T1 is over 2000 mm/min"):
        tool_edits.limit_feed(run(TWO_FEEDS, CALCULATOR), 1, 2000.0)


def test_feeds_follow_a_speed_so_that_the_feed_a_revolution_stays():
    program = run(TWO_FEEDS, CALCULATOR)
    motions = tool_edits.set_speed_and_feed(program, 1, 6000).after.motions
    feeds = motions.kind == MotionKind.FEED
    was, now = (each.feed_mm_min[feeds] / each.rpm[feeds] for each in (program.motions, motions))
    assert now == pytest.approx(was, abs=1 / 6000)  # F200 is written without a point and keeps to whole numbers


def test_a_feed_a_revolution_is_left_as_it_is_when_the_speed_changes():
    text = TWO_FEEDS.replace("G94", "G95").replace("F200", "F.2").replace("F1234.5", "F.1")
    edited = tool_edits.set_speed_and_feed(run(text, CALCULATOR), 1, 6000)
    assert edited.after.text(7) == "X40. F.1"


def test_feeds_of_a_tool_with_two_speeds_do_not_follow():
    with pytest.raises(NotPossible, match="T1 has 2 speeds"):
        tool_edits.set_speed_and_feed(run(TWO_FEEDS.replace("F200", "F200 S500"), CALCULATOR), 1, 6000)


TAP = "G21 G94 G90 G54\nT1 M6\nG0 X0 Y0 S500 M3\nG43 H1 Z5.\nG84 X0 Y0 Z-8. R2. F500\nG80"


@pytest.mark.parametrize("edit", [tool_edits.set_speed, tool_edits.scale_feed, tool_edits.limit_feed])
def test_the_speed_and_the_feed_of_a_tap_do_not_change_one_without_the_other(edit):
    with pytest.raises(NotPossible, match="taps"):
        edit(run(TAP, CALCULATOR), 1, 0.5)


def test_the_speed_of_a_tap_takes_its_feed_along():
    assert tool_edits.set_speed_and_feed(run(TAP, CALCULATOR), 1, 400).after.text(6) == "G84 X0 Y0 Z-8. R2. F400"


def test_a_feed_of_a_tap_that_would_lose_a_digit_is_refused():
    with pytest.raises(NotPossible, match="decimal point"):
        tool_edits.set_speed_and_feed(run(TAP.replace("F500", "F625"), CALCULATOR), 1, 333)


def test_a_feed_without_a_decimal_point_is_scaled_to_a_whole_number():
    assert tool_edits.scale_feed(run(TWO_FEEDS, CALCULATOR), 1, 0.333).after.text(6) == "G1 Z-1. F66"
