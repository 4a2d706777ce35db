"""Cutter compensation. Facts: NISTIR 6556, 3.5.10, App. B, Tables 12 and 13; figures of another interpreter."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.core import nc
from shopflow.core.types import Tool, ToolShape
from tests.core.nc.reading_help import moves, read, shared_program

PREAMBLE = b"G20 G17 G90 F10 S100 M3 G54\nT1 M6\nG0 X0 Y7\n"


def mill(diameter, number=1):
    return {number: Tool(number, "end mill", ToolShape.FLAT, diameter)}


def inches(program, first_line=4):
    """(kind, x, y) from a line on, in inches."""
    steps = zip(moves(program), program.motions.line.tolist(), strict=True)
    return [
        (kind, round(end[0] / 25.4, 6), round(end[1] / 25.4, 6)) for (kind, end), line in steps if line >= first_line
    ]


TABLE_12 = [
    ("feed", 1, 5), ("feed", 1.5, 4), ("arc", 2, 3.5), ("arc", 3.5, 2), ("feed", 3.5, -1), ("arc", 2, -2.5),
    ("feed", -2, -2.5), ("arc", -2.9, 0.2),
]  # fmt: skip


def test_table_12_with_a_tool_of_one_inch():
    program = nc.read(PREAMBLE + shared_program("nist-table12-comp-edge.ngc"), tools=mill(25.4))
    assert not program.unread
    assert inches(program)[:8] == TABLE_12


def test_table_13_with_a_small_negative_diameter():
    """The nominal path of Table 13 is that of Table 12's tool; a tool 0.03 in smaller runs 0.015 in nearer the part."""
    program = nc.read(PREAMBLE + shared_program("nist-table13-comp-nominal.ngc"), tools=mill(-0.03 * 25.4))
    assert not program.unread
    closer = [(kind, x, y) for kind, x, y in inches(program)[1:8]]
    assert closer[0] == ("feed", 1.485, 4.0)
    assert closer[3] == ("feed", 3.485, -1.0)
    assert closer[4] == ("arc", 2.0, -2.485)


def square(body, diameter=6.0, control=nc.PLAIN, **options):
    """A path read with T1 of this diameter, mm."""
    text = f"G17 G21 G90 G54 F100 S100 M3\nT1 M6\nG0 X0 Y-20\n{body}\nM2"
    return read(text, control, tools=mill(diameter), **options)


OUTSIDE = "G42 G1 X0 Y0 D1\nX30\nY30\nX0\nY0\nG40 Y-20"


def test_outside_corners_are_rounded_about_the_programmed_corner():
    program = square("G42 G1 Y0\nX30\nY30\nG40 X50")
    steps = [(kind, end[:2]) for kind, end in moves(program)[1:]]
    assert steps == [
        ("feed", (0, -3)), ("feed", (30, -3)), ("arc", (33, 0)), ("feed", (33, 30)), ("feed", (50, 30)),
    ]  # fmt: skip
    assert program.motions.centre[3, :2].tolist() == [30, 0]
    assert program.motions.turn_deg[3] == pytest.approx(90)


def test_a_tangent_arc_needs_no_corner():
    program = square("G42 G1 Y0\nX30\nG3 X40 Y10 J10\nG1 Y30\nG40 X60")
    assert [end[:2] for _, end in moves(program)[2:5]] == [(30, -3), (43, 10), (43, 30)]
    assert not program.unread


def test_z_moves_keep_their_place_in_the_order():
    program = square("G42 G1 Y0\nX30\nZ-2\nY30\nG40 X50")
    kinds = [(kind, end) for kind, end in moves(program)[2:5]]
    assert kinds[0] == ("feed", (30, -3, 0))
    assert kinds[1][1] == (30, -3, -2)
    assert kinds[2][0] == "arc"


def test_a_stop_with_compensation_on_knows_its_last_motion():
    program = square("G42 G1 Y0\nX30\nG0 Z30\nM0\nG1 Y30\nG40 X50")
    assert (program.stops[0].after_motion, program.stops[0].height_mm) == (3, 30.0)


def test_after_g40_alone_the_tool_stands_where_it_stood():
    program = square("G42 G1 Y0\nX30\nG40\nY-20")
    assert moves(program)[-1] == ("feed", (30, -20, 0))
    assert program.motions.start[-1].tolist() == [30, -3, 0]


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ("G42 G1 Y0\nX30\nY-30\nG40 X50", "concave"),
        ("G42 G1 Y0\nX30\nG42 Y30", "already on"),
        ("G18 G42", "XY plane"),
        ("G42 G1 Y0\nX30\nG53 G0 X0", "compensation on"),
        ("G42 G1 Y0\nX30\nG28", "compensation on"),
        ("G42 G1 Y-18\nX30\nG40 X50", "no longer than"),
        ("G42 G1 Y0\nX30\nG3 X32 Y2 J2\nG2 X34 Y4 I2\nG40 G1 X50", "does not fit"),
        ("G41 D2", "not known"),
        ("G41 D-1", "D must lie"),
        ("G42 G1 Y0\nG81 X1 Z-1 R1", "compensation on"),
    ],
)
def test_what_the_report_forbids_is_told(body, why):  # [App. B.5]
    assert any(why in entry.why for entry in square(body).unread)


def test_d0_is_a_radius_of_zero():
    program = square("G42 D0 G1 Y0\nX30\nY30\nG40 X50")
    assert [end[:2] for _, end in moves(program)[1:]] == [(0, 0), (30, 0), (30, 30), (50, 30)]


def test_without_a_tool_table_the_path_is_read_as_programmed_and_told():
    program = read("G17 G21 G90 G54 F100 S100 M3\nT1 M6\nG0 X0 Y-20\nG42 G1 Y0\nX30\nG40 Y-20\nM2")
    assert [entry.code for entry in program.unread] == ["compensation"]
    assert moves(program)[1] == ("feed", (0, 0, 0))


def test_the_entry_of_a_thread_mill_shorter_than_its_radius_is_told():
    """Diameter 0.25 in: refused; diameter 0: 12 moves (ORIGIN.md)."""
    data = shared_program("cncjs-helical-thread-milling.gcode")
    told = nc.read(data, tools=mill(6.35, 8)).unread
    assert "no longer than" in told[0].why
    program = nc.read(data, tools=mill(0.0, 8))
    assert not program.unread
    assert len(program.motions) == 12


INSIDE = replace(nc.PLAIN, compensated_inside_corners=True)


def test_inside_corners_are_cut_short_by_profile():
    program = square("G42 G1 Y0\nX30\nY-30\nG40 X50", control=INSIDE)
    assert not program.unread
    assert [end[:2] for _, end in moves(program)[1:4]] == [(0, -3), (27, -3), (27, -30)]


def test_a_slot_narrower_than_the_tool_is_an_overcut():
    program = square("G42 G1 Y0\nX30\nY-4\nX0\nG40 Y-20", control=INSIDE)
    assert [entry.code for entry in program.unread] == ["overcut"]


def test_compensation_by_wear_leaves_the_path():
    program = square("G42 G1 Y0\nX30\nG40 Y-20", control=replace(nc.PLAIN, compensation_is_wear=True))
    assert moves(program)[1] == ("feed", (0, 0, 0))
    assert not program.unread
    assert "compensation-by-wear" in {entry.code for entry in program.assumptions}


def test_a_size_in_d_is_a_diameter_by_profile():
    program = square("G42 D4.5 G1 Y0\nX30\nG40 Y-20", control=replace(nc.PLAIN, size_in_d=True))
    assert moves(program)[1] == ("feed", (0, -2.25, 0))


@settings(max_examples=60, deadline=None)
@given(st.integers(3, 12), st.floats(1.0, 8.0), st.sampled_from([41, 42]))
def test_around_a_convex_outline_the_tool_always_stands_its_radius_away(corners, radius, code):
    angles = np.linspace(0, 2 * math.pi, corners, endpoint=False) * (1 if code == 42 else -1)
    points = [(50 * math.cos(angle), 50 * math.sin(angle)) for angle in angles]
    ring = [*points, points[0]]
    body = "\n".join(f"X{x:.6f} Y{y:.6f}" for x, y in ring[1:])
    program = square(
        f"G0 X90 Y{30 if code == 41 else -30}\nG{code} G1 X{ring[0][0]:.6f} Y{ring[0][1]:.6f}\n{body}\nG40 X99",
        2 * radius,
    )
    assert not program.unread
    for end in program.motions.end[2:-1, :2]:
        assert distance_to_ring(end, ring) == pytest.approx(radius, abs=1e-4)


def distance_to_ring(point, ring):
    distances = []
    for (ax, ay), (bx, by) in zip(ring, ring[1:], strict=False):
        dx, dy = bx - ax, by - ay
        along = max(0.0, min(1.0, ((point[0] - ax) * dx + (point[1] - ay) * dy) / (dx * dx + dy * dy)))
        distances.append(math.dist(point, (ax + along * dx, ay + along * dy)))
    return min(distances)
