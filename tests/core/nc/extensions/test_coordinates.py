"""Rotation, scaling, mirror, local shift, further work offsets, G10 beyond the report. Common practice, no source."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.core.nc.reading_help import CALCULATOR, ends, run, sole_why

SQUARE = "G0 X0 Y0 Z0\n{}\nG1 X10\nY10\n{}"


def calc(lines, **options):
    return run(lines, CALCULATOR, **options)


def path(lines, **options):
    program = calc(lines, **options)
    assert not program.unread, program.unread
    return ends(program)


def test_a_rotation_turns_about_its_point_until_g69():
    assert path("G0 X0 Y0 Z0\nG68 X0 Y0 R90.\nG1 X10\nY10\nG69\nX0 Y0") == [
        (0, 0, 0), (0, 10, 0), (-10, 10, 0), (0, 0, 0),
    ]  # fmt: skip


def test_a_rotation_without_point_turns_about_the_present_one():
    assert path("G0 X5 Y5 Z0\nG68 R90.\nG1 X10 Y5")[-1] == (5, 10, 0)


def test_increments_turn_with_the_rotation():
    assert path("G0 X0 Y0 Z0\nG68 X0 Y0 R90.\nG91 G1 X10\nX10\nY5")[-1] == (-5, 20, 0)


def test_arcs_turn_with_the_rotation():
    program = calc("G0 X0 Y0 Z0\nG68 X0 Y0 R90.\nG3 X10 Y10 J10")
    assert ends(program)[-1] == (-10, 10, 0)
    assert program.motions.centre[-1, :2].round(9).tolist() == [-10, 0]
    assert program.motions.turn_deg[-1] == pytest.approx(90)


def test_a_mirror_turns_clockwise_into_counter_clockwise():
    program = calc("G0 X0 Y0 Z0\nG51.1 X0\nG3 X10 Y10 J10\nG50.1\nG0 X5")
    assert ends(program)[1:] == [(-10, 10, 0), (5, 10, 0)]
    assert program.motions.turn_deg[1] == pytest.approx(-90)


def drilled(lines):
    program = calc("G0 X0 Y0 Z5\n" + lines)
    assert not program.unread, program.unread
    return [tuple(end) for end in program.motions.end[program.motions.kind == 1].round(6).tolist()]


def test_holes_turn_with_the_rotation_and_keep_their_depth():
    assert drilled("G68 X0 Y0 R90.\nG99 G81 X10 Y2 Z-3 R1\nX20\nG80 G69") == [(-2, 10, -3), (-2, 20, -3)]


def test_holes_are_mirrored_and_keep_their_depth():
    assert drilled("G51.1 X5\nG98 G83 X10 Y2 Z-3 R1 Q9\nY4\nG80\nG50.1") == [(0, 2, -3), (0, 4, -3)]


def test_repeats_of_a_cycle_run_along_the_turned_axis():
    assert drilled("G68 X0 Y0 R90.\nG91 G99 G81 X10 Z-4 R-4 K3\nG90 G80 G69") == [
        (0, 10, -3), (0, 20, -3), (0, 30, -3),
    ]  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(st.floats(-180, 180), st.booleans(), st.lists(st.tuples(*[st.integers(-50, 50)] * 2), min_size=1, max_size=5))
def test_holes_lie_where_rapids_under_the_same_transform_lead(angle, mirrored, places):
    head = "G0 X0 Y0 Z5\n" + ("G51.1 X3\n" if mirrored else "") + f"G68 X7 Y-2 R{angle:.4f}\n"
    words = [f"X{x} Y{y}" for x, y in places]
    holes = calc(head + "G99 G81 Z-1 R1 K0\n" + "\n".join(words) + "\nG80")
    rapids = calc(head + "\n".join(f"G0 {word}" for word in words))
    assert not holes.unread
    motions = holes.motions
    assert np.allclose(motions.end[motions.kind == 1, :2], rapids.motions.end[1:, :2], atol=1e-9)


def test_one_axis_of_a_mirror_may_end():
    assert path("G0 X0 Y0 Z0\nG51.1 X0 Y0\nG50.1 X0\nG1 X3 Y4")[-1] == (3, -4, 0)


def test_scaling_scales_lengths_and_radii():
    program = calc("G0 X0 Y0 Z0\nG51 X0 Y0 Z0 P2.\nG2 X10 Y10 R10\nG1 Z-1\nG50\nX1")
    assert ends(program)[1:] == [(20, 20, 0), (20, 20, -2), (1, 20, -2)]


def test_scaling_each_axis_by_its_own_factor():
    assert path("G0 X0 Y0 Z0\nG51 X0 Y0 Z0 I2. J3. K1.\nG1 X1 Y1 Z1")[-1] == (2, 3, 1)


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        ("G68 X0 Y0", "no R word"),
        ("G51 X0 Y0 P0.", "zero"),
        ("G51 X0", "factor is not stated"),
        ("G51 X0 P2", "depends on the control"),
        ("G51 I2. J3.\nG2 X5 Y5 R9.", "no circle"),
        ("G51 X0 Y0 Z0 P2.\nG81 X1 Z-1 R1", "scaling"),
        ("G68 R45.\nG76 X1 Z-1 R1 Q.1", "steps aside"),
        ("G68 R45.\nG18\nG81 X1 Y-1 R1", "XY plane"),
        ("G91 G68 R45.", "G91"),
        ("G18 G68 R45.", "G17"),
        ("G51.1 Z0", "G51.1"),
    ],
)
def test_what_depends_on_the_control_is_told(lines, why):
    assert why in sole_why(calc("G0 X0 Y0 Z5\n" + lines))


@settings(max_examples=80, deadline=None)
@given(st.floats(-180, 180), st.floats(-50, 50), st.floats(-50, 50), st.booleans(), st.floats(0.2, 5))
def test_any_transform_keeps_shapes(angle, x, y, mirrored, factor):
    """Distances grow by the factor and arcs keep their sweep, whatever comes together."""
    body = "G1 X10 Y3\nG3 X4 Y9 I-6 J0\nG1 X-7 Y2"
    mirror = "\nG51.1 X3" if mirrored else ""
    changed = calc(
        f"G0 X0 Y0 Z0{mirror}\nG51 X1 Y2 Z0 P{factor:.6f}\nG68 X{x:.4f} Y{y:.4f} R{angle:.5f}\nG0 X0 Y0\n{body}"
    )
    plain = calc(f"G0 X0 Y0 Z0\nG0 X0 Y0\n{body}")
    assert not changed.unread
    one, two = plain.motions.end[1:, :2], changed.motions.end[1:, :2]
    steps = [np.linalg.norm(np.diff(points, axis=0), axis=1) for points in (one, two)]
    assert np.allclose(steps[0] * round(factor, 6), steps[1], atol=1e-6)
    assert np.allclose(np.abs(plain.motions.turn_deg), np.abs(changed.motions.turn_deg), atol=1e-6)


def test_a_local_shift_adds_to_all_offsets_until_zero():
    assert path("G0 X1 Y0 Z0\nG52 X100.\nX1\nG52 X0\nX1") == [(1, 0, 0), (101, 0, 0), (1, 0, 0)]


def test_further_work_offsets():
    program = calc("G54.1 P7\nG0 X1")
    assert program.work_offsets == ("G54.1 P7",)
    assert program.motions.work_offset.tolist() == [16]


@pytest.mark.parametrize("text", ["G54.1", "G54.1 P0", "G54.1 P999"])
def test_a_further_work_offset_needs_its_number(text):
    assert "P1" in sole_why(calc(text))


def test_g10_l20_gives_the_present_place_these_numbers():
    program = calc("G0 X5 Y5 Z5\nG10 L20 P1 X0 Y0\nG0 X1 Y1")
    assert program.motions.start[-1].tolist() == [0, 0, 5]


def test_a_tool_offset_set_by_the_program_is_noted_and_its_height_unknown():
    program = calc("G43 H3 Z5\nG10 L11 P3 R0.1\nZ1")
    assert program.length_offsets_set == {3}
    assert not program.motions.start_known[-1, 2]


def test_centres_may_be_places_under_g90_1():
    motions = calc("G0 X10 Y0\nG90.1\nG3 X0 Y10 I0 J0\nG91.1\nG3 X-10 Y0 J-10").motions
    assert motions.centre[1:, :2].tolist() == [[0, 0], [0, 0]]


def test_an_alias_means_the_other_code():
    control = replace(CALCULATOR, aliases=(("G70", "G20"), ("G71", "G21")))
    assert ends(run("G70 G0 X1\nG71 X1", control)) == [(25.4, 0, 0), (1, 0, 0)]


def test_turning_a_full_circle_back_is_the_same_place():
    points = path("G0 X3 Y4 Z0\nG68 X0 Y0 R360.\nG1 X3 Y4")
    assert math.dist(points[0], points[1]) < 1e-9


def test_an_offset_set_under_g91_is_told():
    assert "depends on the control" in sole_why(calc("G0 X0 Y0 Z0\nG91\nG10 L2 P1 X5."))
