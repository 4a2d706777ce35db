"""Two revisions compared by meaning."""

import pytest

from shopflow.core import nc
from shopflow.core.nc import ChangeKind
from tests.core.nc.reading_help import CALCULATOR, sample

BEFORE = sample("bracket_plunged.nc")


def compare(old, new):
    assert old in BEFORE
    after = BEFORE.replace(old, new, 1)
    read = [nc.read(data, control=CALCULATOR) for data in (BEFORE, after)]
    return nc.difference(*read)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"N5 G99", b"N15 G99"),
        (b"(PLUNGED)", b"(DRILLED)"),
        (b"X.5 Y.5 Z-1.1", b"X0.500 Y+.5 Z-1.10"),
        (b"N6 X1.5", b"n6x1.5"),
        (b"G99 G81", b"G81 G99"),
    ],
)
def test_what_only_looks_different_is_shown_apart(old, new):
    difference = compare(old, new)
    assert [change.kind for change in difference.changes] == [ChangeKind.LOOKS]
    assert not difference.meaningful
    assert difference.same_motions


@pytest.mark.parametrize(
    ("old", "new", "kind", "line"),
    [
        (b"Z-1.1", b"Z-1.2", ChangeKind.MOTION, 7),
        (b"G81", b"G82", ChangeKind.MOTION, 7),
        (b"F4.8", b"F5.", ChangeKind.FEED, 7),
        (b"S1200", b"S1400", ChangeKind.SPEED, 5),
        (b"T6", b"T7", ChangeKind.TOOL, 15),
        (b"H5", b"H6", ChangeKind.OFFSET, 6),
        (b"N14 G54", b"N14 G55", ChangeKind.OFFSET, 16),
        (b"M08", b"M07", ChangeKind.OTHER, 6),
    ],
)
def test_what_changes_the_work_is_named_with_its_line(old, new, kind, line):
    changes = compare(old, new).meaningful
    assert [(change.kind, change.before, change.after) for change in changes] == [(kind, (line,), (line,))]


def test_a_line_put_in_is_a_change_without_a_before():
    changes = compare(b"N8 G80\n", b"X3.\nN8 G80\n").changes
    assert [(change.before, change.after) for change in changes] == [((), (10,))]


def test_a_line_taken_out_is_a_change_without_an_after():
    changes = compare(b"N7 X2.5\n", b"").changes
    assert [(change.before, change.after) for change in changes] == [((9,), ())]


def test_feeds_that_went_and_came_are_listed():
    difference = compare(b"F4.8", b"F5.")
    assert difference.removed_feeds == (121.92,)
    assert difference.added_feeds == (127.0,)


def test_the_change_of_cut_length_is_told():
    assert compare(b"Z-1.1", b"Z-1.2").cut_length_change_mm == pytest.approx(3 * 2.54)
