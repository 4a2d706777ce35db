"""Blocks, words and numbers. Facts: NISTIR 6556; the section stands beside each test."""

import pytest

from tests.core.nc.reading_help import ends, read, run, sole_why, whys


def test_blanks_inside_a_number_mean_nothing():  # [3.3]
    assert ends(run("g0x +0. 12 34y 7")) == [(0.1234, 7.0, 0.0)]


def test_tabs_and_case_mean_nothing():  # [3.3]
    assert ends(run("g1\tX1\ty2")) == [(1.0, 2.0, 0.0)]


def test_empty_lines_are_ignored():  # [3.3]
    program = run("\n  \n\t\nG0 X1\n\n")
    assert ends(program) == [(1.0, 0.0, 0.0)]
    assert not program.unread


def test_a_block_longer_than_256_characters_is_refused():  # [3.3]
    assert "256" in sole_why(run("G0 X1 " + "(" + "a" * 260 + ")"))


@pytest.mark.parametrize("text", ["N5 G0 X1", "N99999 G0 X1", "n 1 2 G0 X1", "N00001G0X1"])
def test_a_sequence_number_of_up_to_five_digits_is_read(text):  # [3.3.1]
    program = run(text)
    assert ends(program) == [(1.0, 0.0, 0.0)]
    assert not program.unread


def test_a_sequence_number_of_six_digits_is_refused():  # [3.3.1]
    assert "5 digits" in sole_why(run("N100000 G0 X1"))


def test_sequence_numbers_may_repeat_and_go_backwards():  # [3.3.1]
    assert not run("N20 G0 X1\nN20 X2\nN10 X3").unread


@pytest.mark.parametrize(("text", "value"), [(".5", 0.5), ("5.", 5.0), ("-.5", -0.5), ("+5", 5.0), ("007", 7.0)])
def test_numbers_need_one_digit_and_may_leave_either_side_of_the_point_empty(text, value):  # [3.3.2.1]
    assert ends(run(f"G0 X{text}")) == [(value, 0.0, 0.0)]


@pytest.mark.parametrize("text", ["X.", "X-", "X1.2.3", "X", "X+-1"])
def test_what_is_no_number_is_refused_with_its_line(text):  # [3.3.2.1]
    program = run(f"G0 {text}")
    assert [line for line, _ in whys(program)] == [2]
    assert not len(program.motions)


def test_numbers_have_no_exponent():  # [3.3.2.1]
    assert sole_why(run("G0 X1E3")).startswith("E3")


def test_a_whole_number_may_be_off_by_a_ten_thousandth():  # [3.3.2.1]
    assert run("G1.00001 X1").count(1) == 1


def test_a_number_that_must_be_whole_is_refused_when_it_is_not():  # [3.3.2.1]
    assert "whole number" in sole_why(run("M3.4"))


def test_a_comment_is_no_code():  # [3.3.4]
    assert ends(run("G0 (X99) X1 (y5)")) == [(1.0, 0.0, 0.0)]


def test_a_comment_must_close_in_its_block():  # [3.3.4]
    assert "not closed" in sole_why(run("G0 X1 (open"))


def test_a_comment_within_a_comment_is_refused():  # [3.3.4]
    assert "another" in sole_why(run("G0 X1 (a (b) c)"))


def test_only_the_last_comment_of_a_block_counts():  # [3.3.5]
    assert run("G0 Z5\nM0 (first) (last)").stops[0].text == "last"


def test_a_letter_may_stand_once_in_a_block():  # [3.3.5]
    assert "two X words" in sole_why(run("G0 X1 X2"))


def test_words_of_a_block_have_no_order():  # [3.3.6]
    assert ends(run("X1 F50 G1 Y2")) == ends(run("G1 Y2 X1 F50"))


def test_a_first_percent_sign_needs_no_second_one():  # [App. A.1]
    assert not read("%\nG21 G90 G54 G0 X1\nM2").unread


def test_the_second_percent_sign_ends_the_program():  # [App. A.1]
    assert ends(read("\n%\nG21 G90 G54 G0 X1\n%\nG0 X2")) == [(1.0, 0.0, 0.0)]


def test_a_percent_sign_without_a_first_one_is_refused():  # [App. A.1]
    assert "%" in sole_why(read("G21 G90 G54 G0 X1\n%\nM2"))


def test_a_block_with_a_slash_is_run_because_the_switch_is_off():  # [2.2.2]
    program = run("/G0 X1")
    assert ends(program) == [(1.0, 0.0, 0.0)]
    assert "block-delete" in {entry.code for entry in program.assumptions}


def test_four_m_words_of_different_groups_may_stand_in_one_block():  # [3.3.5]
    program = run("T3 M6 M3 M8 M48 S500\nG1 X1")
    assert not program.unread
    assert program.motions.coolant.tolist() == [2]


def test_mist_and_flood_may_be_on_together():  # [3.4, Table 4]
    assert run("M7 M8\nG1 X1").motions.coolant.tolist() == [3]
