"""Two revisions compared by meaning."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core import nc
from shopflow.core.nc import ChangeKind, differences
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


LONG = b"G21 G90 G54\n" + b"".join(b"G1 X%d.\n" % (line % 7000) for line in range(21_000)) + b"M30\n"


def changes_of(after):
    read = [nc.read(data, control=CALCULATOR) for data in (LONG, after)]
    return [(change.kind, change.before, change.after) for change in nc.difference(*read).changes]


def test_in_a_long_program_only_the_lines_that_changed_are_told():
    after = LONG.replace(b"G1 X3.\n", b"G1 X3. F9.\n", 1).replace(b"M30", b"M2")
    assert changes_of(after) == [(ChangeKind.FEED, (5,), (5,)), (ChangeKind.OTHER, (21_002,), (21_002,))]


@given(st.lists(st.integers(0, 9), max_size=40), st.lists(st.integers(0, 9), max_size=40), st.integers(1, 30))
def test_stretches_cover_both_texts_and_match_where_they_say_so(old, new, most):
    words = [[(("X", float(value)),) for value in values] for values in (old, new)]
    before, differences.MOST_COMPARED = differences.MOST_COMPARED, most
    try:
        found = differences.aligned(*words)
    finally:
        differences.MOST_COMPARED = before
    edges = [(0, 0, 0, 0, True), *found, (len(old), len(old), len(new), len(new), True)]
    assert all((one[1], one[3]) == (two[0], two[2]) for one, two in pairwise(edges))
    assert all(words[0][a:b] == words[1][c:d] for a, b, c, d, same in found if same)


def test_a_line_put_into_a_long_program_leaves_the_others_as_they_were(monkeypatch):
    monkeypatch.setattr(differences, "MOST_COMPARED", 10)
    before = "".join(f"X{line}.\n" for line in range(30))
    after = before.replace("X2.\n", "M0\nX2.\n").replace("X28.", "X28.5")
    read = [nc.read(f"G21 G90 G54 G0\n{text}M30".encode(), control=CALCULATOR) for text in (before, after)]
    found = [(change.before, change.after) for change in nc.difference(*read).changes]
    assert found == [((), (4,)), ((30,), (31,))]
