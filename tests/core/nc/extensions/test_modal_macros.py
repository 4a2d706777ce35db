"""G66 and G67, and what a macro call may hold. Common practice, no source."""

from dataclasses import replace

import pytest

from shopflow.core import nc
from tests.core.nc.reading_help import CALCULATOR, INCREMENT, ends, read, sole_why, whys

HEAD = "O1\nG17 G21 G90 G54 G94 F100 S1000 M3 G0\n"
HOLE = "\nM30\nO50\nG91 G1 Z-#26\nG0 Z#26\nG90\nM99"


def calc(text, control=CALCULATOR, **options):
    return read(HEAD + text, control, **options)


def xs(program):
    assert not program.unread, program.unread
    return [x for x, _, _ in ends(program)]


def test_a_modal_macro_runs_after_each_block_that_moves():
    program = calc("X0 Y0 Z5\nG66 P50 Z2.\nX10\nX20 (two holes)\nG67\nX30" + HOLE)
    assert not program.unread
    assert ends(program) == [
        (0, 0, 5), (10, 0, 5), (10, 0, 3), (10, 0, 5), (20, 0, 5), (20, 0, 3), (20, 0, 5), (30, 0, 5),
    ]  # fmt: skip


def test_the_block_of_g66_itself_and_blocks_without_a_move_call_nothing():
    assert len(calc("X0 Y0 Z5\nG66 P50 Z2.\nM8\nF200\nG67" + HOLE).motions) == 1


def test_moves_of_the_macro_itself_call_nothing():
    assert len(calc("X0 Y0 Z5\nG66 P50 Z2.\nX1" + HOLE).motions) == 4


def test_moves_in_a_subprogram_call_the_modal_macro():
    program = calc("X0 Y0 Z5\nG66 P50 Z2.\nM98 P60\nG67\nM30\nO60\nX1\nX2\nM99" + HOLE)
    assert not program.unread
    assert int((program.motions.kind == 1).sum()) == 2


def test_a_modal_macro_repeats_by_l():
    assert int((calc("X0 Y0 Z5\nG66 P50 L3 Z2.\nX1\nG67" + HOLE).motions.kind == 1).sum()) == 3


def test_programs_before_the_main_one_that_g66_calls_are_its_macros():
    program = read("O50\nG91\nG1 Z-1 F9\nG90\nM99\nO1\nG21 G17 G90 G54 G0 X0 Y0 Z9\nG66 P50\nX1\nG67\nM30", CALCULATOR)
    assert (program.number, len(program.motions)) == ("O1", 3)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("G66 P77\nX1", "O77 is not in this file"),
        ("G66 Z2.", "no P word"),
        ("G66 P50 L0", "less than once"),
        ("G66 P50 Z2.\nG66 P50 Z3.", "another G66"),
        ("X0 Y0 Z5\nG66 P50 Z2.\nG28 Z9", "with G66 in force"),
    ],
)
def test_what_is_not_certain_about_a_modal_call_is_told(text, why):
    assert why in sole_why(calc(text + "\nG67" + HOLE))


def test_a_macro_that_changes_its_argument_is_told_at_its_next_call():
    body = "X0 Y0 Z5\nG66 P50 A1\nX1\nX2\nG67\nM30\nO50\nG1 Z[#1]\n#1=[#1+1]\nG0 Z5\nM99"
    assert [(line, "#1" in why) for line, why in whys(calc(body))] == [(6, True)]


def test_the_report_and_a_profile_without_g66_do_not_read_it():
    without = replace(CALCULATOR, extra_codes=CALCULATOR.extra_codes - {"G66"})
    assert "G66 is not a code of this control" in sole_why(calc("G66 P50\nG67" + HOLE, without))
    assert len(read("G66\nG67", nc.PLAIN).unread) == 2


def test_a_plain_stretch_under_g66_is_not_read_as_plain():
    text = HEAD + "X0 Y0 Z5\nG66 P50 Z2.\n" + "X1\nX2\n" * 20 + "G67" + HOLE
    fast, full = (nc.read(text.encode(), control=CALCULATOR, fast=wanted) for wanted in (True, False))
    assert ends(fast) == ends(full)
    assert len(fast.motions) == 1 + 3 * 40


def test_i_j_k_given_again_fill_the_next_variables():
    program = calc("G65 P60 I1 J2 K3 I4 J5 K6 I7\nM30\nO60\nX[#4+#5+#6]\nX[#7+#8+#9]\nX#10\nM99")
    assert xs(program) == [6, 15, 7]


@pytest.mark.parametrize("text", ["G65 P60 A1 A2", "G65 P60 D1 I1 I2", "G65 P60 N5"])
def test_an_argument_given_twice_or_none_at_all_is_told(text):
    assert len(calc(text + "\nM30\nO60\nM99").unread) == 1


@pytest.mark.parametrize(("words", "told"), [("Z2", True), ("Z2.", False), ("Z0", False), ("T3 S500 H2", False)])
def test_an_argument_without_a_point_is_told_where_it_may_count_increments(words, told):
    assert bool(calc(f"G65 P60 {words}\nM30\nO60\nM99", INCREMENT).unread) is told
