"""Several programs in one file, listed and taken apart."""

import numpy as np
import pytest

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.core.nc.text import open_source
from tests.core.nc.reading_help import CALCULATOR

FILE = (
    b"%\r\nO0001 (OP 10)\r\nG21 G90 G54\r\nM98 P900\r\nM30\r\n"
    b"O2 (OP 20)\r\nG21 G90 G55\r\nG0 X7.\r\nM98 P900\r\nM30\r\n"
    b"O900 (HOLES)\r\nG0 X1. Y2.\r\nM98 P901\r\nM99\r\nO901\r\nG0 X3.\r\nM99\r\n%\r\n"
)


def source(data=FILE):
    return open_source(data, max_bytes=1000)


def only(*numbers, data=FILE):
    return nc.only(source(data), CALCULATOR, numbers)


def test_the_programs_of_a_file_are_listed_with_their_lines_and_who_is_called():
    listed = nc.programs_in(source(), CALCULATOR)
    assert [(one.number, one.first, one.last, one.is_called) for one in listed] == [
        ("O1", 2, 5, False), ("O2", 6, 10, False), ("O900", 11, 14, True), ("O901", 15, 17, True),
    ]  # fmt: skip
    assert [one.title for one in listed] == ["OP 10", "OP 20", "HOLES", ""]


def test_a_control_without_program_numbers_lists_none():
    assert nc.programs_in(source(), nc.PLAIN) == ()


def test_a_program_is_taken_out_with_everything_that_it_calls():
    assert only("O2") == FILE[:3] + FILE[FILE.index(b"O2") :]


def test_a_program_taken_out_moves_as_it_did_in_the_file():
    first, alone = (nc.read(data, control=CALCULATOR) for data in (FILE, only("O1")))
    assert np.array_equal(first.motions.end, alone.motions.end)
    assert not alone.unread and not [item for item in alone.assumptions if item.code == "not-run"]


def test_a_file_without_a_break_at_its_end_keeps_none():
    assert only("O1", data=FILE.rstrip(b"%\r\n")).endswith(b"M99")


def test_a_number_that_is_not_in_the_file_is_refused():
    with pytest.raises(NotPossible, match="O7 is not in this file"):
        only("O7")
