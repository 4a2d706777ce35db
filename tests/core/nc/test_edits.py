"""Proposed edits: they change what they say, and nothing else."""

import numpy as np
import pytest

from shopflow.core import nc
from shopflow.core.errors import NotPossible
from shopflow.core.nc import edits
from tests.core.nc.reading_help import CALCULATOR, run, sample


@pytest.fixture(scope="module")
def bracket():
    return nc.read(sample("bracket_plunged.nc"), control=CALCULATOR)


def test_a_plunge_becomes_pecks_in_the_programs_own_style(bracket):
    edited = edits.peck(bracket, 7, 3.0)
    assert edited.after.text(7) == "N5 G99 G83 X.5 Y.5 Z-1.1 R.1 F4.8 Q0.118 (PLUNGED)"
    assert edited.lines == (7,)


def test_pecking_changes_no_other_line(bracket):
    before, after = sample("bracket_plunged.nc").split(b"\n"), edits.peck(bracket, 7, 3.0).data.split(b"\n")
    assert [line for line, (old, new) in enumerate(zip(before, after, strict=True), 1) if old != new] == [7]


def test_every_hole_of_the_series_pecks_to_its_old_depth(bracket):
    after = edits.peck(bracket, 7, 3.0).after.motions
    for line in (7, 8, 9):
        rows = after.line == line
        assert int((rows & (after.kind == 1)).sum()) == 11  # 1.2 in by 0.118 in
        assert after.end[rows, 2].min() == pytest.approx(-1.1 * 25.4)


def test_no_peck_is_longer_than_asked(bracket):
    motions = edits.peck(bracket, 7, 3.0).after.motions
    rows = np.flatnonzero((motions.cycle == 83) & (motions.kind == 1))
    first_of_each = rows[np.isclose(motions.start[rows, 2], 0.1 * 25.4)]
    assert len(first_of_each) == 3
    assert (motions.start[first_of_each, 2] - motions.end[first_of_each, 2]).max() <= 3.0


def test_a_line_without_blanks_in_lower_case_stays_so():
    program = run("g0z5\ng81x1z-9r1.5\ng80", CALCULATOR)
    assert edits.peck(program, 3, 2.55).after.text(3) == "g83x1z-9r1.5q2.5"


def test_a_dwell_cycle_loses_its_dwell():
    program = run("G0 Z5\nG82 X1 Z-9. R1. P500\nG80", CALCULATOR)
    with pytest.raises(NotPossible):
        edits.peck(run("G0 Z5", CALCULATOR), 2, 2.0)
    assert edits.peck(program, 3, 2.0).after.text(3) == "G83 X1 Z-9. R1. Q2.0"


@pytest.mark.parametrize(("line", "q"), [(8, 3.0), (1, 3.0), (16, 3.0), (7, 0.0), (7, -1.0), (7, 0.0001)])
def test_what_cannot_peck_is_refused(bracket, line, q):
    with pytest.raises(NotPossible):
        edits.peck(bracket, line, q)


def test_a_stop_is_put_in_and_proved(bracket):
    edited = edits.insert_stop(bracket, 11, "Measure the first hole")
    assert [stop.text for stop in edited.after.stops] == ["MEASURE THE FIRST HOLE", "CHECK THE FIRST HOLE"]
    assert len(edited.after.motions) == len(bracket.motions)


def test_a_stop_keeps_the_files_line_ends(bracket):
    assert b"\r" not in edits.insert_stop(bracket, 11, "look").data


PECKED = "G0 Z5 X0 Y0\nG98 G83 X1 Z-9. R1. Q2.50 (deep)\nX2\nG80"


def test_the_depth_of_pecks_changes_in_the_programs_own_style():
    program = run(PECKED, CALCULATOR)
    edited = edits.peck_depth(program, 3, 1.5)
    assert edited.after.text(3) == "G98 G83 X1 Z-9. R1. Q1.50 (deep)"
    motions = edited.after.motions
    assert int(((motions.cycle == 83) & (motions.kind == 1)).sum()) == 2 * 7  # 10 mm by 1.5 mm


@pytest.mark.parametrize(("line", "q"), [(2, 1.0), (4, 1.0), (3, 0.0)])
def test_where_no_peck_stands_its_depth_is_not_changed(line, q):
    with pytest.raises(NotPossible):
        edits.peck_depth(run(PECKED, CALCULATOR), line, q)
