""",R and ,C between two straight feeds. Common practice, no source."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.core.nc.reading_help import CALCULATOR, moves, run, sole_why

START = "G0 X0 Y0 Z0\n"


def calc(lines):
    return run(START + lines, CALCULATOR)


def test_a_rounded_corner_is_tangent_on_both_sides():
    program = calc("G1 X20. ,R5.\nY30.")
    assert moves(program)[1:] == [("feed", (15, 0, 0)), ("arc", (20, 5, 0)), ("feed", (20, 30, 0))]
    assert program.motions.centre[2].tolist() == [15, 5, 0]
    assert program.motions.turn_deg[2] == pytest.approx(90)


def test_a_right_turn_is_rounded_clockwise():
    program = calc("G1 X20. ,R5.\nY-30.")
    assert program.motions.turn_deg[2] == pytest.approx(-90)
    assert program.motions.centre[2].tolist() == [15, -5, 0]


def test_a_chamfer_cuts_both_lines_short():
    steps = moves(calc("G1 X20. ,C5.\nY30."))[1:]
    assert steps == [("feed", (15, 0, 0)), ("feed", (20, 5, 0)), ("feed", (20, 30, 0))]


def test_corners_may_follow_each_other():
    kinds = [kind for kind, _ in moves(calc("G1 X20. ,R5.\nY30. ,C3.\nX0 ,R2.\nY0"))[1:]]
    assert kinds == ["feed", "arc", "feed", "feed", "feed", "arc", "feed"]


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        ("G1 X20. ,R5.\nG0 Y30.", "two straight feeds"),
        ("G1 X20. ,R5.\nG3 X30. Y10. J10.", "two straight feeds"),
        ("G1 X20. ,R5.\nZ-5.", "XY plane"),
        ("G1 X20. ,R5.\nX30.", "no corner"),
        ("G1 X20. ,R50.\nY30.", "longer than a move"),
        ("G1 X20. ,R5.", "no move behind it"),
        ("G1 X20. ,R0", "not more than zero"),
        ("G1 X20. ,Q5.", "before R or C"),
    ],
)
def test_a_corner_that_cannot_be_turned_is_told(lines, why):
    assert why in sole_why(calc(lines))


def test_the_report_knows_no_corner_words():
    assert len(run(START + "G1 X20. ,R5.").unread) == 1


@settings(max_examples=60, deadline=None)
@given(st.floats(5, 175), st.booleans(), st.floats(0.1, 2.0))
def test_rounding_keeps_the_path_continuous_and_tangent(angle, left, radius):
    """The arc begins and ends at right angles to its radius, wherever the corner turns."""
    turn = math.radians(angle if left else -angle)
    program = calc(f"G1 X100. ,R{radius:.4f}\nX{100 + 100 * math.cos(turn):.6f} Y{100 * math.sin(turn):.6f}")
    if program.unread:
        assert "longer than a move" in sole_why(program)
        return
    motions = program.motions
    assert math.dist(motions.end[2], motions.start[3]) < 1e-9
    before, after = motions.end[1] - motions.start[1], motions.end[3] - motions.start[3]
    for place, way in ((motions.start[2], before), (motions.end[2], after)):
        arm = place - motions.centre[2]
        assert abs(arm[0] * way[0] + arm[1] * way[1]) / math.hypot(*way[:2]) < 1e-4
