"""What is no program at all is refused as a whole, in sentences; anything else is read."""

import pytest

from shopflow.core import nc
from shopflow.core.errors import Unreadable

PROGRAM = b"G21 G90 G54 G0 X1\nM30\n"


@pytest.mark.parametrize("data", [b"", b"  \r\n\t\n", b"\x00\x00", b"\x1a"])
def test_an_empty_file_is_refused(data):
    with pytest.raises(Unreadable, match="empty") as refused:
        nc.read(data)
    assert "Choose the NC program" in refused.value.mend


@pytest.mark.parametrize("data", [b"G0 X1\n\x00\x01\x02", bytes(range(256)), b"\x7fELF\x02\x01", b"MZ\x90\x00\x03"])
def test_binary_data_is_refused(data):
    with pytest.raises(Unreadable):
        nc.read(data)


def test_the_place_of_the_first_binary_byte_is_said():
    with pytest.raises(Unreadable) as refused:
        nc.read(b"G0 X1\n\x05")
    assert refused.value.where == "byte 6"


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"%PDF-1.7 ...", "PDF"),
        (b"ISO-10303-21;\nHEADER;", "STEP"),
        (b"PK\x03\x04", "zip"),
        (b"\x89PNG\r\n", "picture"),
    ],
)
def test_another_kind_of_file_is_named(data, kind):
    with pytest.raises(Unreadable, match=kind):
        nc.read(data)


def test_utf_16_is_named():
    with pytest.raises(Unreadable, match="UTF-16"):
        nc.read("G0 X1".encode("utf-16"))


def test_a_file_over_the_limit_is_refused():
    with pytest.raises(Unreadable, match="23 bytes|22 bytes"):
        nc.read(PROGRAM, limits=nc.Limits(max_bytes=10))


@pytest.mark.parametrize("line_end", [b"\n", b"\r\n", b"\r"])
def test_any_line_end_is_read(line_end):
    program = nc.read(PROGRAM.replace(b"\n", line_end))
    assert program.lines == 2
    assert not program.unread


def test_the_last_line_needs_no_line_end():
    assert nc.read(PROGRAM.rstrip()).program_ends == 2


def test_control_bytes_of_paper_tape_are_no_binary_data():
    assert len(nc.read(b"\x12G21 G90 G54 G0 X1\n".replace(b"\x12", b"") + b"M30\n\x14").motions) == 1


def test_bytes_that_are_no_utf_8_are_read_in_comments():
    program = nc.read("G21 G90 G54 G0 X1 (Größe)\nM30".encode("latin-1"))
    assert not program.unread


def test_a_letter_of_another_alphabet_outside_comments_is_told():
    program = nc.read("G21 G90 G54 G0 Х1\nM30".encode())
    assert "character" in program.unread[0].why


def test_text_that_is_no_program_is_told_line_by_line():
    program = nc.read(b"Dear all,\nplease find the drawing.\n<<<<<<< HEAD\n")
    assert [entry.line for entry in program.unread] == [1, 2, 3]


def test_a_program_of_too_many_steps_ends_with_an_entry():
    program = nc.read(b"G21 G90 G54 G0 X1\n" * 50, limits=nc.Limits(max_steps=10))
    assert not program.complete
    assert program.unread[-1].code == "limit"


def test_a_program_of_too_many_motions_ends_with_an_entry():
    program = nc.read(b"G21 G90 G54 G0 X1\n" * 50, limits=nc.Limits(max_motions=10))
    assert not program.complete
    assert len(program.motions) <= 11


def test_more_entries_than_are_listed_are_counted():
    program = nc.read(b"?\n" * 50, limits=nc.Limits(max_unread=10))
    assert len(program.unread) == 11
    assert "40 more" in program.unread[-1].why


def test_numbers_beyond_any_machine_are_refused():
    program = nc.read(b"G21 G90 G54\nG0 X" + b"9" * 200 + b"\nM30")
    assert [entry.line for entry in program.unread] == [2]


@pytest.mark.parametrize("profile", ["plain", "calculator"])
def test_a_long_line_with_a_slip_at_its_end_is_told_at_once(profile):
    """A pattern that tries every way to split each number would not come back from this line."""
    line = "X100 Y100 Z100 " * 12 + "?"
    program = nc.read(f"G21 G90 G54 G0 X1\n{line}\nM30".encode(), control=nc.CONTROLS[profile])
    assert [entry.line for entry in program.unread] == [2]
