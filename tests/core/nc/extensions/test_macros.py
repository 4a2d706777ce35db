"""The common macro language and local calls. Common practice, no source."""

from dataclasses import replace

import pytest

from shopflow.core import nc
from tests.core.nc.reading_help import CALCULATOR, ends, read, run, sole_why, whys

HEAD = "O1\nG17 G21 G90 G54 G94 F100 S1000 M3 G0\n"


def calc(text, control=CALCULATOR, **options):
    return read(HEAD + text, control, **options)


def xs(program):
    assert not program.unread
    return [x for x, _, _ in ends(program)]


def test_while_repeats_until_its_condition_fails():
    assert xs(calc("#1=1\nWHILE[#1 LE 3]DO1\nX#1\n#1=#1+1\nEND1\nX9\nM30")) == [1, 2, 3, 9]


def test_wh_is_short_for_while():
    assert xs(calc("#1=0\nWH[#1 LT 2]DO1\n#1=[#1+1]\nX#1\nEND1\nM30")) == [1, 2]


def test_loops_may_nest():
    body = "#1=0\nWHILE[#1LT2]DO1\n#2=0\nWHILE[#2LT2]DO2\nX[#1*10+#2]\n#2=[#2+1]\nEND2\n#1=[#1+1]\nEND1\nM30"
    assert xs(calc(body)) == [0, 1, 10, 11]


def test_if_goto_jumps_when_it_holds():
    assert xs(calc("#1=5\nIF[#1 GT 3]GOTO100\nX1\nN100 X2\nM30")) == [2]
    assert xs(calc("#1=2\nIF[#1 GT 3]GOTO100\nX1\nN100 X2\nM30")) == [1, 2]


def test_if_then_sets_when_it_holds():
    assert xs(calc("#1=5\nIF[#1 EQ 5]THEN#2=7\nIF[#1 EQ 6]THEN#2=8\nX#2\nM30")) == [7]


def test_goto_goes_on_from_here_and_back_only_where_nothing_follows():
    assert xs(calc("#1=0\nN10 #1=[#1+1]\nX#1\nIF[#1LT3]GOTO10\nM30")) == [1, 2, 3]


def test_goto_to_nowhere_is_told():
    assert sole_why(calc("GOTO77\nM30")) == "N77 is not in this program"


def test_goto_stays_in_its_program():
    assert "not in this program" in sole_why(calc("GOTO77\nM30\nO2\nN77 X1\nM99"))


def test_a_loop_without_end_stops_at_the_step_limit():
    program = calc("WHILE[1]DO1\nX1\nEND1\nM30", limits=nc.Limits(max_steps=500))
    assert program.unread[-1].code == "limit"


@pytest.mark.parametrize("body", ["WHILE[1]DO1\nX1", "X1\nEND1", "WHILE[1]DO1\nX1\nEND2"])
def test_a_loop_that_does_not_close_is_told(body):
    assert any("of its own" in why for _, why in whys(calc(body + "\nM30")))


@pytest.mark.parametrize("text", ["IF[1]X5", "WHILE[1]X5", "GOTO1X5", "IF[1", "IF[1]THEN", "GOTO1.5"])
def test_a_statement_that_is_wrong_is_told(text):
    assert len(calc(text + "\nN1 M30").unread) == 1


def test_a_macro_gets_its_letters_as_local_variables():
    program = calc("G65 P50 A1 B2 C3 D4 E5 F6 H7\nM30\nO50\nX[#1+#2+#3]\nX[#7+#8+#9+#11]\nM99")
    assert xs(program) == [6, 22]


def test_a_macros_locals_are_its_own():
    assert xs(calc("#1=3\nG65 P50 A1\nX#1\nM30\nO50\n#1=9\nX#1\nM99")) == [9, 3]


def test_a_subprogram_shares_the_locals_of_its_caller():
    assert xs(calc("#1=3\nM98 P50\nX#1\nM30\nO50\n#1=9\nM99")) == [9]


def test_a_macro_call_repeats_by_l():
    assert xs(calc("G65 P50 L3 X2.\nM30\nO50\nX#24\nM99")) == [2, 2, 2]


def test_a_letter_that_is_not_given_is_vacant():
    assert xs(calc("G65 P50 A1\nM30\nO50\nIF[#2 EQ #0]GOTO5\nX1\nN5 X2\nM99")) == [2]


def test_a_word_with_a_vacant_variable_is_not_there():
    assert ends(calc("X1 Y1\nX#30 Y2\nM30")) == [(1, 1, 0), (1, 2, 0)]


def test_a_vacant_variable_counts_zero_in_arithmetic_and_is_not_zero_in_eq():
    assert xs(calc("X[#30+1]\nX[#30 EQ 0]\nX[#30 NE 0]\nX[#30 LT 1]\nM30")) == [1, 0, 1, 1]


def test_common_variables_outlive_a_macro():
    assert xs(calc("G65 P50\nX#100\nM30\nO50\n#100=4\nM99")) == [4]


def test_a_variable_of_the_control_may_not_be_set_unseen():
    assert "belongs to the control" in sole_why(calc("#5221=5\nM30"))


def test_the_place_and_the_modes_can_be_read():
    assert xs(calc("X5\nX[#5001+1]\nX#4003\nX#4119\nM30")) == [5, 6, 90, 1000]


def test_a_stop_by_variable_is_a_stop():
    stop = calc("G0 Z5\n#3006=1 (turn the part)\nM30").stops[0]
    assert (stop.kind, stop.text) == ("#3006", "turn the part")


def test_m99_p_returns_to_a_line_of_the_caller():
    assert xs(calc("M98 P50\nX1\nN77 X2\nM30\nO50\nX9\nM99 P77")) == [9, 2]


def test_a_local_call_is_read_where_the_profile_has_it():
    text = "M97 P100 L2\nX9\nM30\nN100 X1\nM99"
    assert xs(calc(text, replace(CALCULATOR, local_calls=True))) == [1, 1, 9]
    assert "M97 is not a code of this control" in sole_why(calc(text))


def test_subprograms_may_stand_before_the_main_program():
    program = read("%\nO50\nX7\nM99\nO1\nG90 G21 G54 G0 X1\nM98 P50\nM30\n%", CALCULATOR)
    assert xs(program) == [1, 7]
    assert program.number == "O1"
    assert "main-assumed" in {entry.code for entry in program.assumptions}


def test_an_expression_may_follow_a_feed_word():
    assert run("#100=0.05\nG1 X1 F[#100 * .002 * 4E]\n".replace("4E", "400"), CALCULATOR).motions.feed_mm_min[0] == 0.04


def test_a_point_behind_an_expression_is_told():
    """`F[#100 * .002 * 4].` is seen in real files; what the point means is not certain."""
    assert len(run("#100=1\nG1 X1 F[#100 * .002 * 4].", CALCULATOR).unread) == 1


def test_the_report_knows_none_of_it():
    assert len(run("WHILE[1]DO1\nGOTO5\nIF[1]GOTO5").unread) == 3
