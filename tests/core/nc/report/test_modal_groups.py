"""Modal groups. Facts: NISTIR 6556, 3.4 and Table 4."""

import pytest

from tests.core.nc.reading_help import ends, run, sole_why


@pytest.mark.parametrize(
    "text",
    ["G0 G1 X1", "G17 G18", "G90 G91", "G93 G94", "G20 G21", "G40 G41", "G43 H1 G49", "G98 G99", "G54 G55", "G61 G64"],
)
def test_two_codes_of_one_group_are_refused(text):
    assert "modal group" in sole_why(run(text))


@pytest.mark.parametrize("text", ["M0 M1", "M3 M4", "M48 M49", "M2 M30"])
def test_two_m_codes_of_one_group_are_refused(text):
    assert "modal group" in sole_why(run(text))


@pytest.mark.parametrize("text", ["M8 M9", "M7 M9", "M8 M8"])
def test_coolant_on_and_off_in_one_block_is_refused(text):
    assert "exclude" in sole_why(run(text))


@pytest.mark.parametrize("text", ["G28 G0 X1", "G92 G1 X1", "G30 G81 X1 Z-1 R1"])
def test_two_codes_that_need_the_axis_words_are_refused(text):  # [3.4]
    assert "axis words" in sole_why(run(text))


def test_a_motion_mode_from_before_waits_while_g92_has_the_axis_words():  # [3.4]
    program = run("G1 X4\nG92 X7\nX8")
    assert ends(program) == [(4.0, 0.0, 0.0), (5.0, 0.0, 0.0)]


def test_axis_words_under_g80_are_refused():  # [3.5.15]
    assert "G80" in sole_why(run("G80\nX1"))


def test_g92_may_have_axis_words_under_g80():  # [3.5.15]
    assert not run("G0 X1\nG80\nG92 X0").unread


@pytest.mark.parametrize("code", ["G73", "G95", "G12", "G68", "M98", "M19", "G5.1", "M6.5", "G999"])
def test_a_code_that_the_report_does_not_have_is_refused(code):
    assert len(run(f"{code}\nG0 X1").unread) == 1


def test_a_redundant_modal_word_is_no_finding():
    assert not run("G1 X1\nG1 G90 G21 G17 X2\nG1 X2").unread


@pytest.mark.parametrize(("text", "word"), [("G1 X1 Q5", "Q5"), ("G0 X1 R2", "R2"), ("G0 X1 I1", "I1"), ("H5", "H5")])
def test_a_word_that_nothing_uses_is_told(text, word):
    assert sole_why(run(text)).startswith(word)


def test_a_rotary_word_on_a_three_axis_machine_is_told():
    assert sole_why(run("G1 X1 A90")).startswith("A90 turns a rotary axis")


def test_a_refused_block_moves_nothing_and_leaves_its_axes_unknown():
    program = run("G1 X1 Y1\nG1 X5 Q1 X6\nG1 Y3")
    assert ends(program) == [(1.0, 1.0, 0.0), (1.0, 3.0, 0.0)]
    assert program.motions.start_known[1].tolist() == [False, True, False]
