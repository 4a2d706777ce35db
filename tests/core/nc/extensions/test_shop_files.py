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


def test_text_outside_comments_is_told_with_its_letter():
    assert sole_why(calc("HELLO WORLD AGAIN\nG0 X1")).startswith("“HELLOWORLDAG…” has no value")


@pytest.mark.parametrize(
    "text", ["g1x1.5y-2.f90.", "G 1 X 1 . 5 Y - 2 . F 9 0 .", "\tG01X+1.50Y-2.F90.", "N010000 g1 X1.5y-2. f90."]
)
def test_blanks_case_and_sequence_numbers_mean_nothing(text):
    program = calc(text)
    assert (ends(program), program.motions.feed_mm_min.tolist(), program.unread) == ([(1.5, -2, 0)], [90.0], ())


def test_six_digit_sequence_numbers_may_repeat_and_go_backwards():
    program = calc("N200000 G0 X1.\nN100000 X2.\nN200000 X3.")
    assert [x for x, _, _ in ends(program)] == [1, 2, 3]
    assert not program.unread


@pytest.mark.parametrize("text", ["G3 X0. Y10. I-10.", "G3 X0. Y10.\tI-10. J0", "G03 X0 I-10. Y10.01"])
def test_an_arc_may_have_one_centre_word_and_a_rounded_end(text):
    program = calc(f"G0 X10. Y0.\n{text}")
    assert program.motions.centre[-1, :2].tolist() == [0.0, 0.0]
    assert not program.unread


def test_a_program_end_that_stands_before_the_main_program_does_not_end_it():
    program = read("%\nO900\nG0 X5.\nM99\nM30\nO1\nG90 G54 G21 G17\nM98 P900\nX6.\nM30\n%", CALCULATOR)
    assert [x for x, _, _ in ends(program)] == [5, 6]
    assert program.program_ends == 10


def test_a_line_of_code_before_the_program_number_is_read():
    program = read("%\nG21 G90 G54 G17\n:77 (PART)\nG0 X1.\nM30\n%", CALCULATOR)
    assert (program.number, program.units, ends(program)) == ("O77", "mm", [(1, 0, 0)])


def test_of_several_programs_the_first_is_read_and_the_others_are_told():
    program = read("%\nO1\nG21 G90 G54 G0 X1.\nM30\nO2\nX2.\nM30\n%", CALCULATOR)
    assert (program.number, ends(program)) == ("O1", [(1, 0, 0)])
    assert [(entry.line, entry.code) for entry in program.assumptions] == [(5, "not-run")]


def test_a_program_without_end_and_without_a_break_behind_its_last_line_is_read_to_its_end():
    program = read("G21 G90 G54 G0 X1.\nX2.", CALCULATOR)
    assert [x for x, _, _ in ends(program)] == [1, 2]
    assert program.program_ends is None


@pytest.mark.parametrize("text", ["X1.000 Y-.5", "X1. Y-0.5", "X1 Y-.500"])
def test_decimals_that_were_dropped_change_nothing(text):
    assert ends(calc(f"G0 {text}")) == [(1, -0.5, 0)]


def test_a_rapid_of_a_dog_leg_control_ends_where_a_straight_one_does():
    assert ends(calc("G0 X30. Y10.", straight_rapids=False)) == ends(calc("G0 X30. Y10."))
