"""Parts of a program as programs of their own, proved by reading them."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.core.types import Motions
from tests.core.nc.reading_help import CALCULATOR, INCREMENT, sample

HEAD = "%\nO1001 (PLATE)\nG21 G17 G90 G94 G40 G80 G54\n"
FIRST = "T1 M6\nS4000 M3\nG0 X0. Y0.\nG43 H1 Z50. M8\nZ5.\nG1 Z-2. F200.\nX40. F600.\nG0 Z50.\n"
STOP = "M9\nM5\nM0 (TURN IT OVER)\n"
GO_ON = "M3\nM8\nG0 X5. Y5. Z50.\nZ5.\nG1 Z-3.\nX30.\nG0 Z50.\nM9\nM5\n"
END = "M30\n%\n"
TURNED = HEAD + FIRST + STOP + GO_ON + END
AT = TURNED[: TURNED.index("M0 (")].count("\n") + 1


def whole(text=TURNED, control=CALCULATOR):
    return nc.read(text.encode(), control=control)


def cut(text=TURNED, *after, control=CALCULATOR, numbers=("O1002",)):
    return nc.cut_apart(whole(text, control), after or (AT,), numbers=numbers)


def alone(piece, control=CALCULATOR):
    return nc.read(piece.data, control=control)


def test_the_motions_of_the_parts_put_together_are_those_of_the_whole():
    together = np.concatenate([alone(piece).motions.end[:, :2] for piece in cut()])
    assert np.array_equal(together, whole().motions.end[:, :2])


def test_what_is_in_force_where_the_part_begins_is_given_again_at_its_head():
    assert cut()[1].head == (
        "O1002", "(LINES 15 TO 24 OF O1001)", "(BEGIN WITH THE TOOL HOME)", "G40 G49 G80", "G17 G21 G90 G94 G54",
        "T1 M06", "G43 H1", "S4000", "F600.",
    )  # fmt: skip


def test_the_part_before_a_stop_ends_where_the_stop_was():
    first, _second = cut()
    assert first.data.decode().endswith("M5\n(TURN IT OVER)\nM30\n%\n")
    assert alone(first).stops == ()


def test_a_part_that_is_cut_with_the_spindle_on_ends_with_spindle_and_coolant_off():
    text = HEAD + FIRST + "G0 X1. Y1. Z50.\n" + GO_ON.removeprefix("M3\nM8\n") + END
    first, second = cut(text, HEAD.count("\n") + FIRST.count("\n"))
    assert first.data.decode().endswith("G0 Z50.\nM09\nM05\nM30\n%\n")
    assert "S4000 M03" in second.head and "M08" in second.head


def test_a_part_that_begins_with_a_tool_change_brings_its_own_tool():
    text = HEAD + FIRST + STOP + "T2 M6\nS900 M3\nG43 H2 G0 X1. Y1. Z50.\nG1 Z-1. F90.\nG0 Z50.\nM5\n" + END
    head = cut(text)[1].head
    assert not [line for line in head if "M06" in line or "G43" in line or line.startswith("S")]


def test_a_tool_called_ahead_of_the_cut_is_called_again():
    text = HEAD + FIRST + STOP.replace("M9", "M9 T2") + "M6\nS900 M3\nG43 H2 G0 X1. Y1. Z50.\nG1 Z-1. F90.\nM5\n" + END
    assert alone(cut(text)[1]).tools == (2,)


def test_the_subprograms_go_with_each_part_that_calls_them():
    call, sub = "M98 P900\n", "O900\nG91 G1 X2.\nG90\nM99\nO901\nG4 P1.\nM99\n"
    text = TURNED.replace("X40. F600.\n", "X40. F600.\n" + call).replace("M30\n", "M30\n" + sub)
    first, second = cut(text, AT + 1)
    assert b"O900" in first.data and b"O900" not in second.data
    assert b"O901" not in first.data


def test_a_part_that_cuts_from_where_the_one_before_left_the_tool_is_refused():
    with pytest.raises(NotPossible, match="Line 18 goes on from where the part before"):
        cut(TURNED.replace("G0 X5. Y5. Z50.\nZ5.\n", "G0 X5. Y5.\n"))


def test_a_part_that_needs_a_shift_from_before_is_refused():
    with pytest.raises(NotPossible, match="the place of line 18 would be another"):
        cut(TURNED.replace("G0 X0. Y0.\n", "G52 X7.\nG0 X0. Y0.\n"), AT + 1)


def test_a_part_that_needs_a_variable_from_before_is_refused():
    text = TURNED.replace("G0 X0. Y0.\n", "#100=5.\nG0 X0. Y0.\n").replace("G0 X5. Y5.", "G0 X#100 Y5.")
    with pytest.raises(NotPossible, match="cannot be read without what stands before the cut"):
        cut(text, AT + 1)


@pytest.mark.parametrize(
    ("line", "says"), [(9, "not retracted"), (2, "not|move nothing"), (1000, "is not run"), (24, "Cut behind a line")]
)
def test_a_cut_where_no_part_can_end_is_refused(line, says):
    with pytest.raises(NotPossible, match=says):
        cut(TURNED, line)


def test_inch_feeds_are_given_again_in_inches():
    text = TURNED.replace("G21", "G20").replace("F600.", "F23.5")
    assert "F23.5" in cut(text)[1].head


def test_a_file_without_a_number_gets_none():
    assert cut(TURNED.replace("O1001 (PLATE)\n", ""), AT - 1)[1].head[0].startswith("(LINES")


def test_a_shop_program_is_cut_at_its_stop():
    program = nc.read(sample("plate_two_sides.nc"), control=CALCULATOR)
    first, second = nc.cut_apart(program, [42], numbers=["O7002"])
    assert second.rows == (first.rows[1], len(program.motions))


MORE = st.sampled_from(["", "F90.", "G91 X1.\nG90", "S70"])
MOVES = st.lists(
    st.tuples(st.integers(0, 99), st.integers(0, 99), st.integers(1, 9), MORE), min_size=1, max_size=3
)  # fmt: skip
ENDS = st.sampled_from(
    ["M0", "M9\nM5\nM00 (LOOK)", "G55", "M5\nT2 M6\nG43 H2 S90 M3", "G53 G0 Z0.\nG20\nM0\nG21", "M1"]
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(MOVES, ENDS), min_size=2, max_size=4), st.sampled_from([CALCULATOR, INCREMENT, nc.PLAIN]))
def test_parts_make_the_motions_of_the_whole_or_are_refused(parts, control):
    text, cuts = HEAD.replace("%\n", "").replace("O1001 (PLATE)\n", "") + "T1 M6\nG43 H1\nS500 M3\nF50.\n", []
    for moves, end in parts:
        for x, y, z, more in moves:
            text += f"G0 X{x}. Y{y}. Z9.\n{more}\nG1 Z-{z}.\nG0 Z9.\n"
        text += end + "\n"
        cuts.append(text.count("\n"))
    program = whole(text + "M30\n", control)
    try:
        pieces = nc.cut_apart(program, cuts[:-1])
    except NotPossible as refusal:
        assert str(refusal).endswith(".")
        return
    readings = [alone(piece, control) for piece in pieces]
    for column in fields(Motions):
        if column.name not in ("line", "start", "start_known", "end"):
            joined = np.concatenate([getattr(reading.motions, column.name) for reading in readings])
            assert np.array_equal(joined, getattr(program.motions, column.name), equal_nan=True), column.name
    known = np.concatenate([reading.end_known for reading in readings])
    ends = np.concatenate([reading.motions.end for reading in readings])
    assert np.array_equal(ends[known], program.motions.end[known])
