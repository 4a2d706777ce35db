"""Units and stored numbers, and the parameters that the interpreter itself sets [NISTIR 6556, 3.5.7, 3.2.1, 3.5.18]."""

import pytest

from tests.core.nc.reading_help import ends, run


@pytest.mark.parametrize(("unit", "mm"), [("G20", 254.0), ("G21", 10.0)])
def test_a_stored_number_is_read_in_the_unit_in_force_when_it_is_used(unit, mm):
    """3.5.7: G20 and G21 do not convert stored numbers."""
    assert ends(run(f"#1=10\n{unit}\nG0 X#1"))[-1][0] == mm


def test_a_place_stays_where_it_is_when_the_units_change():
    """3.5.7: what changes is how the next numbers are read."""
    assert ends(run("G21 G0 X25.4\nG20 G91 X1"))[-1][0] == pytest.approx(50.8)


def test_units_hold_for_the_words_of_their_own_block():
    """3.8, Table 8: units come in step 12, motion in step 20."""
    assert ends(run("G0 X1 G20"))[-1][0] == pytest.approx(25.4)


def test_g92_keeps_its_offset_in_5211():
    """3.5.18: at X4, G92 X7 makes the offset -3; then G92 X9 makes it -5."""
    assert [x for x, _, _ in ends(run("G0 X4\nG92 X7\nG0 Y#5211\nG92 X9\nG0 Y#5211"))][:1] == [4.0]
    assert [y for _, y, _ in ends(run("G0 X4\nG92 X7\nG0 Y#5211\nG92 X9\nG0 Y#5211"))] == [0.0, -3.0, -5.0]


@pytest.mark.parametrize(("code", "kept"), [("G92.1", 0.0), ("G92.2", -3.0)])
def test_g92_1_clears_the_parameters_and_g92_2_keeps_them(code, kept):
    """3.5.18."""
    assert ends(run(f"G0 X4\nG92 X7\n{code}\nG0 Y#5211"))[-1][1] == kept


@pytest.mark.parametrize(("code", "number"), [("G54", 1), ("G55", 2), ("G59", 6), ("G59.3", 9)])
def test_5220_is_the_number_of_the_work_offset_in_force(code, number):
    """3.2.1 and 3.5.13."""
    program = run(f"{code}\nG0 X#5220")
    assert ends(program)[-1][0] == number and not program.unread


def test_5221_is_the_origin_that_g10_gave():
    """3.5.5: G10 L2 P1 X3.5 Y17.2; the next system has its origin 20 on."""
    assert ends(run("G10 L2 P2 X3.5 Y17.2\nG0 X#5241 Y#5242"))[-1][:2] == (3.5, 17.2)


def test_an_offset_that_was_stored_under_other_units_is_told():
    unread = run("G0 X4\nG92 X7\nG20\nG0 Y#5211").unread
    assert [entry.line for entry in unread] == [5]
    assert "G20 or G21" in unread[0].why


@pytest.mark.parametrize("word", ["T201", "T0201", "t 2 0 1"])
def test_a_tool_word_is_one_whole_number_however_many_digits_it_has(word):
    """3.7.3: T is a slot number; the last digits are no offset of their own, as they are on lathes."""
    program = run(f"{word} M6\nG43 H201 G0 Z5")
    assert program.tools == (201,)
    assert program.motions.length_offset[-1] == 201


@pytest.mark.parametrize("word", ["T2.01", "T-1", "T999999999"])
def test_a_tool_word_that_is_no_slot_is_refused(word):
    assert [entry.line for entry in run(f"{word} M6").unread] == [2]
