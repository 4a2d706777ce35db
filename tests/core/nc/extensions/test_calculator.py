"""The common word-address control as the profile "calculator" has it. Common practice, no source, unless said."""

from dataclasses import replace

import pytest

from tests.core.nc.reading_help import CALCULATOR, ends, moves, run, sole_why, whys


def calc(lines, **changes):
    return run(lines, replace(CALCULATOR, **changes) if changes else CALCULATOR)


def test_a_number_without_a_point_is_whole_units():
    assert ends(calc("G0 X10"))[0][0] == 10.0


def test_g80_brings_back_the_straight_mode_from_before():
    assert [kind for kind, _ in moves(calc("G1 X1 Z5\nG81 X2 Z-1 R1\nG80\nX3"))][-1] == "feed"


def test_g80_with_axis_words_moves_them():
    assert moves(calc("G0 X1 Z5\nG81 X2 Z-1 R1\nG80 X3"))[-1] == ("rapid", (3, 0, 5))


@pytest.mark.parametrize("word", ["K2", "L2"])
def test_a_cycle_repeats_by_k_or_l(word):
    motions = calc(f"G0 Z5\nG91 G81 X2 Z-3 R-3 {word}").motions
    assert int((motions.kind == 1).sum()) == 2


@pytest.mark.parametrize("word", ["K0", "L0"])
def test_a_cycle_repeated_zero_times_keeps_its_data_and_drills_nothing(word):
    steps = moves(calc(f"G0 X0 Y0 Z5\nG81 Z-1 R1 {word}\nX7"))
    assert [end for kind, end in steps if kind == "feed"] == [(7, 0, -1)]


def test_a_cycle_block_without_axis_word_drills_nothing():
    assert len(calc("G0 X0 Y0 Z5\nG81 R1 F50\n").motions) == 1


def test_a_cycle_without_place_drills_where_the_tool_stands():
    assert moves(calc("G0 X3 Y4 Z5\nG99 G81 Z-1 R1"))[-2] == ("feed", (3, 4, -1))


def test_a_cycle_without_r_feeds_from_where_it_stands_by_profile():
    assert "no R word" in sole_why(calc("G0 X0 Y0 Z5\nG81 X1 Z-1"))
    steps = moves(calc("G0 X0 Y0 Z5\nG81 X1 Z-1", cycle_without_r=True))
    assert steps[1:] == [("rapid", (1, 0, 5)), ("feed", (1, 0, -1)), ("rapid", (1, 0, 5))]


def test_g80_and_a_height_in_the_next_block_move_by_the_mode_from_before():
    assert moves(calc("G0 X0 Y0 Z5\nG81 X2 Z-1 R1\nG80\nZ25."))[-1] == ("rapid", (2, 0, 25))


def test_pecks_go_back_to_r_and_end_at_the_level_before_the_series():
    steps = moves(calc("G0 X0 Y0 Z20\nG98 G83 X1 Z-2 R2 Q2\nX2", peck_retract_mm=0.5))
    assert [end[2] for _, end in steps if end[0] == 2] == [20, 2, 0, 2, 0.5, -2, 20]


def test_the_level_of_a_series_stays_over_g99_holes():
    steps = moves(calc("G0 X0 Y0 Z20\nG99 G81 X1 Z-2 R2\nG98 X2"))
    assert steps[-1] == ("rapid", (2, 0, 20))


def test_a_tap_feeds_up_to_r_and_rapids_from_there():
    steps = moves(calc("G0 X0 Y0 Z20\nG84 X1 Z-5 R3"))
    assert steps[-2:] == [("feed", (1, 0, 3)), ("rapid", (1, 0, 20))]


def test_rigid_tapping_turns_the_spindle_itself():
    motions = calc("M5\nG0 X0 Y0 Z20\nM29 S500\nG84 X1 Z-5 R3\nG80").motions
    assert motions.spindle[motions.cycle == 84].tolist() == [0, 0, 1, -1, 0]


def test_without_rigid_tapping_a_stopped_spindle_stays_stopped():
    motions = calc("M5\nG0 X0 Y0 Z20\nG84 X1 Z-5 R3").motions
    assert not motions.spindle.any()


@pytest.mark.parametrize(("text", "seconds"), [("P500", 0.5), ("X2.", 2.0), ("U1.5", 1.5), ("P2.", 2.0)])
def test_a_dwell_counts_milliseconds_without_a_point(text, seconds):
    assert calc(f"G4 {text}").motions.dwell_s.tolist() == [seconds]


def test_a_dwell_with_p_and_a_point_is_told():
    assert "dwell-with-point" in {entry.code for entry in calc("G4 P2.").assumptions}


def test_feed_per_revolution_is_turned_into_feed_per_minute():
    assert calc("G95 F0.1 G1 X1").motions.feed_mm_min.tolist() == [100.0]


def test_feed_per_revolution_follows_the_spindle_speed():
    assert calc("G95 F0.1 G1 X1\nS2000\nX2").motions.feed_mm_min.tolist() == [100.0, 200.0]


def test_spindle_off_waits_for_the_move_of_its_block():
    motions = calc("G1 X1 M5\nG0 X2").motions
    assert motions.spindle.tolist() == [1, 0]


def test_coolant_off_waits_for_the_move_of_its_block():
    assert calc("M8\nG1 X1 M9\nG0 X2").motions.coolant.tolist() == [2, 0]


def test_a_mode_alone_only_sets_the_mode():
    program = calc("G1\nX2")
    assert moves(program) == [("feed", (2, 0, 0))]
    assert not program.unread


def test_only_the_named_axis_goes_home():
    motions = calc("G0 X5 Y5 Z5\nG91 G28 Z0\nG90 G0 X6").motions
    assert motions.start_known[-1].tolist() == [True, True, False]


def test_home_words_may_stand_beside_a_mode():
    assert not calc("G0 X5 Y5 Z5\nG0 G91 G28 Z0.\nG28 G91 X0 Y0").unread


def test_g53_needs_no_mode():
    assert calc("G1 X1\nG90 G53 Z0").motions.work_offset.tolist() == [1, 0]


def test_the_program_number_may_have_a_name_behind_it():
    from tests.core.nc.reading_help import read

    program = read("O1234 (BLOCK)\nG90 G54 G21 G0 X1\nM30", CALCULATOR)
    assert program.number == "O1234"
    assert not program.unread


def test_a_colon_may_stand_for_the_o():
    from tests.core.nc.reading_help import read

    assert read(":0077\nG90 G54 G21 G0 X1\nM30", CALCULATOR).number == "O77"


def test_sequence_numbers_of_six_digits_are_read():
    assert not calc("N123456 G0 X1").unread


def test_fix_and_fup_cut_toward_and_away_from_zero():
    assert [x for x, _, _ in ends(calc("G0 X[FIX[-2.8]]\nX[FUP[-2.2]]"))] == [-2.0, -3.0]


def test_a_sign_may_stand_before_a_variable():
    assert ends(calc("#1=5\nG0 X-#1 Y-[#1+1]")) == [(-5.0, -6.0, 0.0)]


def test_comparisons_are_one_or_zero():
    assert ends(calc("G0 X[2 GT 1] Y[2 EQ 1]")) == [(1.0, 0.0, 0.0)]


def test_a_variable_that_lives_in_the_control_is_not_read():
    assert "lives in the control" in sole_why(calc("G0 X#500"))


def test_an_arc_may_miss_its_end_by_two_hundredths():
    assert not calc("G0 X10 Y0\nG3 X0 Y10.015 I-10").unread


def test_nothing_of_the_extensions_is_read_without_a_profile():
    lines = "G73 X1 Z-1 R1 Q1\nG95 F1\nM29 S100\nM98 P1\nM99"
    assert [line for line, _ in whys(run(lines))] == [2, 3, 4, 5, 6]
