"""What real shop files do: read by profile, or told with their line. Common practice, no source."""

from dataclasses import replace

import pytest

from shopflow.core.types import ControlMacro, Coolant, MacroEnd
from tests.core.nc.reading_help import CALCULATOR, ends, moves, read, run, sole_why


def calc(lines, **changes):
    return run(lines, replace(CALCULATOR, **changes) if changes else CALCULATOR)


@pytest.mark.parametrize("text", ["M6 T02", "T2 M06", "T2\nM6", "t02m6"])
def test_a_tool_change_in_any_order(text):
    program = calc(f"{text}\nG0 X1")
    assert program.tools == (2,)
    assert not program.unread


def test_the_next_tool_may_be_called_ahead():
    program = calc("T1 M6\nT2\nG0 X1\nM6\nG0 X2")
    assert program.motions.tool.tolist() == [1, 2]


def test_text_before_the_first_percent_sign_is_passed_over_and_told():
    program = read("LETTER TO THE SHOP\n\n%\nO5\nG90 G54 G21 G0 X1\nM30\n%", CALCULATOR)
    assert [entry.code for entry in program.assumptions] == ["before-percent"]
    assert not program.unread


def test_a_percent_sign_at_the_end_alone_hides_nothing():
    program = read("O5\nG90 G54 G21 G0 X1\nM30\n%\n", CALCULATOR)
    assert ends(program) == [(1, 0, 0)]


def test_an_axis_block_may_stand_between_percent_sign_and_number():
    program = read("%\nG90 G54 G21 G0 X1\nO5 (PART)\nX2\nM30\n%", CALCULATOR)
    assert [x for x, _, _ in ends(program)] == [1, 2]
    assert program.number == "O5"


def test_two_slashes_begin_a_comment():
    assert ends(calc("G0 X1 // X2")) == [(1, 0, 0)]


def test_a_comment_in_a_comment_is_read_by_profile():
    program = calc("G0 X1 (A (B) C) Y2", nested_comments=True)
    assert ends(program) == [(1, 2, 0)]
    assert "another" in sole_why(calc("G0 X1 (A (B) C)"))


def test_two_comments_in_a_block():
    assert ends(calc("(A) G0 X1 (B)")) == [(1, 0, 0)]


def test_a_numbered_block_delete_is_read():
    assert not calc("/2 G0 X1\n/G0 X2").unread


@pytest.mark.parametrize("text", ["G5.1 Q1", "G05 P10000", "G187 P2 E.01", "G187"])
def test_high_speed_words_are_known_and_harmless(text):
    program = calc(f"{text}\nG0 X1")
    assert not program.unread
    assert len(program.motions) == 1


@pytest.mark.parametrize("text", ["G28", "G28 G91 Z0", "G91 G28 Z0.", "G0 G28 G91 Z0", "G91 G30 Z0 M5"])
def test_the_ways_home(text):
    program = calc(f"G0 X1 Y1 Z1\n{text}\nG90")
    assert not program.unread
    assert program.motions.work_offset[-1] == 0


def test_going_home_first_needs_no_assumption_about_the_place():
    program = read("O5\nG21 G17\nG0 G91 G28 Z0.\nG28 X0. Y0.\nG90 G54 G0 X1. Y1.\nM30", CALCULATOR)
    assert [entry.code for entry in program.assumptions] == ["home-assumed"]
    assert program.motions.work_offset.tolist() == [0, 0, 1]


def test_bare_h_changes_the_length_offset_while_one_is_on():
    assert calc("G43 H1 G0 Z5\nH2\nZ4").motions.length_offset.tolist() == [1, 2]


def test_rigid_tapping_with_f_as_pitch():
    program = calc("G0 X0 Y0 Z5\nM29 S500\nG95 G84 Z-10. R2. F1.25\nG80 G94")
    feeds = program.motions.feed_mm_min[(program.motions.cycle == 84) & (program.motions.kind == 1)]
    assert feeds.tolist() == [625.0, 625.0]  # 1.25 mm a turn at S500
    assert not program.unread


def test_a_left_hand_tap_turns_the_other_way():
    motions = calc("M4\nG0 X0 Y0 Z5\nG74 Z-10. R2. F500").motions
    assert motions.spindle[motions.cycle == 74].tolist()[2:4] == [-1, 1]


def test_fine_boring_steps_aside_and_says_which_way_is_assumed():
    program = calc("G0 X0 Y0 Z5\nG76 Z-10. R2. Q.2")
    assert [end for _, end in moves(program)][3:] == [(0, 0, -10), (0.2, 0, -10), (0.2, 0, 5), (0, 0, 5)]
    assert "step-aside" in {entry.code for entry in program.assumptions}


def test_coolant_codes_of_the_builder():
    codes = (("M88", int(Coolant.THROUGH)), ("M89", 0))
    assert calc("M88\nG0 X1\nM89\nX2", coolant_codes=codes).motions.coolant.tolist() == [4, 0]


def test_stop_codes_of_the_builder():
    program = calc("G0 Z5\nM66 (check)", stop_codes=frozenset({"M66"}))
    assert [(stop.kind, stop.text) for stop in program.stops] == [("M66", "check")]


def test_a_code_that_means_different_things_is_told_until_a_profile_says():
    assert "M88 is not a code of this control" in sole_why(calc("M88"))


PROBE = ControlMacro("9810", "protected move", MacroEnd.AXIS_WORDS)
MEASURE = ControlMacro("9811", "measure a surface", MacroEnd.START, sets=(135,))
BROKEN = ControlMacro("M46", "broken tool check", MacroEnd.HOME_Z)


def test_a_macro_of_the_control_is_told_until_a_person_has_described_it():
    assert "not in this file" in sole_why(calc("G65 P9810 Z5."))


def test_a_described_macro_ends_where_its_description_says():
    program = calc("G0 X0 Y0 Z50.\nG65 P9810 X7. Z5. F500\nG1 X9", control_macros=(PROBE,))
    assert not program.unread
    assert [end for _, end in moves(program)] == [(0, 0, 50), (7, 0, 5), (9, 0, 5)]
    assert "control-macro-9810" in {entry.code for entry in program.assumptions}


def test_a_described_macro_may_end_where_it_began_and_set_what_only_the_control_knows():
    program = calc("#135=1\nG0 X0 Y0 Z5.\nG65 P9811 Z-5.\nG1 X1\nX#135", control_macros=(MEASURE,))
    assert program.motions.start_known[1].all()
    assert "lives in the control" in sole_why(program)


def test_a_described_code_may_call_a_macro():
    program = calc("G0 X0 Y0 Z5.\nM46\nG0 X1", control_macros=(BROKEN,))
    assert program.motions.work_offset.tolist() == [1, 0, 1]
    assert not program.unread


def test_merge_conflict_marks_are_told():
    program = calc("<<<<<<< HEAD\nG0 X1\n=======\nG0 X2\n>>>>>>> other")
    assert [entry.line for entry in program.unread] == [2, 4, 6]


def test_a_file_name_that_disagrees_with_the_number_inside_is_told():
    program = read("O1234\nG90 G54 G21 G0 X1\nM30", CALCULATOR, name="O1243.nc")
    assert [entry.code for entry in program.assumptions] == ["other-number"]
    assert not read("O1234\nG90 G54 G21 G0 X1\nM30", CALCULATOR, name="1234.nc").assumptions


def test_a_depth_that_moves_away_from_the_part_is_told():
    assert "R lies below" in sole_why(calc("G0 X0 Y0 Z5\nG81 Z10. R2."))
