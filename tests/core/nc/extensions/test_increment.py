"""The implied-increment decimal rule: X10 is ten least increments. Common practice, no source."""

import pytest

from tests.core.nc.reading_help import INCREMENT, run, sole_why


@pytest.mark.parametrize(
    ("words", "end"),
    [("X10", 0.010), ("X10.", 10.0), ("X-2500", -2.5), ("X.5", 0.5)],
)
def test_a_length_without_a_point_counts_thousandths_of_a_millimetre(words, end):
    assert run(f"G0 {words}", INCREMENT).motions.end[0, 0] == pytest.approx(end)


@pytest.mark.parametrize(("words", "inches"), [("X10", 0.0010), ("X10.", 10.0), ("X12500", 1.25)])
def test_a_length_without_a_point_counts_ten_thousandths_of_an_inch(words, inches):
    assert run(f"G20 G0 {words}", INCREMENT).motions.end[0, 0] == pytest.approx(inches * 25.4)


def test_centres_radii_and_pecks_count_the_same_way():
    motions = run("G0 X0 Y0 Z5.\nG3 X10000 Y10000 J10000\nG83 Z-2000 R1000 Q1500", INCREMENT).motions
    assert motions.centre[1, :2].tolist() == pytest.approx([0.0, 10.0])
    assert motions.end[-1, 2] == 5.0
    assert int((motions.cycle == 83).sum()) == 7


def test_a_computed_value_is_whole_units():
    assert run("G0 X[5+5]", INCREMENT).motions.end[0, 0] == 10.0


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        ("G68 X0 Y0 R90", "angle of G68"),
        ("G95 F20", "a revolution"),
        ("G51 X0 Y0 P2", "factor without a point"),
    ],
)
def test_what_may_count_increments_of_its_own_is_told(lines, why):
    assert why in sole_why(run("G0 X0 Y0 Z5.\n" + lines, INCREMENT))


@pytest.mark.parametrize(
    "lines", ["G68 X0 Y0 R90.", "G95 F.2", "G4 P500", "G83 X1. Z-2. R1. Q500", "G1 X5. ,R500\nY9."]
)
def test_what_is_certain_under_the_increment_rule_is_read(lines):
    assert not run("G0 X0 Y0 Z5.\n" + lines, INCREMENT).unread


def test_a_corner_counts_increments():
    assert run("G0 X0 Y0 Z0\nG1 X5. ,R500\nY9.", INCREMENT).motions.end[1, 0] == pytest.approx(4.5)


def test_a_shift_and_an_offset_count_increments():
    ends_of = run("G52 X1000\nG0 X0\nG52 X0\nG92 X2500\nX2500", INCREMENT).motions.end[:, 0]
    assert ends_of.tolist() == pytest.approx([1.0, 1.0])


def test_feeds_and_speeds_are_whole_units():
    motions = run("G1 X1. F200 S1500", INCREMENT).motions
    assert (motions.feed_mm_min[0], motions.rpm[0]) == (200.0, 1500.0)
