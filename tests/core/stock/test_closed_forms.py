"""Swept tools against closed forms: volumes to half a percent, surfaces to the stated error, falling with the grid."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from shopflow.core.types import Tool, ToolShape
from tests.core.stock.cutting_help import BALL, BLOCK, FLAT, block, motions, run, slot_volume, taken

REFERENCE = Path(__file__).resolve().parents[3].parent / "shared" / "reference"
DRILL = Tool(1, "8 mm drill", ToolShape.DRILL, 8.0, point_angle_deg=118.0)


def at_place(removal, axis, place):
    """The intervals of the column of a set that is nearest to a place in the other two axes, and where it stands."""
    grid = removal.grid
    others = [number for number in range(3) if number != axis]
    cells = [int(np.argmin(np.abs(grid.middles(other) - value))) for other, value in zip(others, place, strict=True)]
    one = removal.columns.along(axis)
    stands = [float(grid.middles(other)[cell]) for other, cell in zip(others, cells, strict=True)]
    return one.ends[cells[0], cells[1], : one.count[cells[0], cells[1]]].astype(float), stands


def test_a_slot_has_its_volume_in_every_set():
    cut = run("G0 X8 Y15\nG1 Z9\nX32\nG0 Z40")
    assert taken(cut) == pytest.approx([slot_volume(6.0, 24.0, 6.0)] * 3, rel=0.005)


def test_the_floor_of_a_slot_is_exact():
    floor, _ = at_place(run("G0 X8 Y15\nG1 Z9.123\nX32"), 2, (20.0, 15.0))
    assert floor.tolist() == [[0.0, pytest.approx(9.123, abs=1e-5)]]


def test_the_walls_of_a_slot_are_exact():
    walls, _ = at_place(run("G0 X8 Y15.037\nG1 Z9\nX32"), 1, (20.0, 12.0))
    assert walls == pytest.approx(np.array([[0.0, 12.037], [18.037, 30.0]]), abs=1e-5)


def test_a_wall_at_an_angle_is_exact_along_both_axes():
    cut = run("G0 X8 Y8\nG1 Z9\nX32 Y20")
    for axis in (0, 1):
        (first, *_), (across, _) = at_place(cut, axis, (14.0, 12.0) if axis == 0 else (20.0, 12.0))
        dx, dy = 24.0, 12.0
        offset = 3.0 * math.hypot(dx, dy)
        wall = 8.0 + ((across - 8.0) * dx - offset) / dy if axis == 0 else 8.0 + ((across - 8.0) * dy - offset) / dx
        assert first[1] == pytest.approx(wall, abs=1e-4)


@pytest.mark.parametrize("pitch", [0.4, 0.2, 0.1, 0.05])
def test_the_volume_error_of_a_ball_groove_falls_with_the_grid(pitch):
    """Across a set's columns a face of the block is known to half a pitch: the widest is the top, 6 mm of groove."""
    small = ((0.0, 10.0, 10.0), (10.0, 20.0, 15.0))
    cut = run("G0 X-10 Y15\nG0 Z11\nG1 X50", BALL, pitch, small)
    exact = 10.0 * (math.pi * 9.0 / 2.0 + 6.0 * 1.0)
    assert taken(cut, pitch, small) == pytest.approx([exact] * 3, abs=10.0 * 6.0 * pitch / 2.0)
    if pitch == 0.05:
        assert sum(taken(cut, pitch, small)) / 3 == pytest.approx(exact, rel=0.005)


def test_a_ball_groove_is_exact_along_every_column():
    cut = run("G0 X-10 Y15\nG0 Z11\nG1 X50", BALL)
    (floor, *_), (_, y) = at_place(cut, 2, (20.0, 13.2))
    assert floor[1] == pytest.approx(14.0 - math.sqrt(9.0 - (y - 15.0) ** 2), abs=1e-4)
    (first, second), (_, z) = at_place(cut, 1, (20.0, 12.3))
    half = math.sqrt(9.0 - (14.0 - z) ** 2)
    assert (first[1], second[0]) == pytest.approx((15.0 - half, 15.0 + half), abs=1e-4)


def test_a_drilled_hole_has_the_volume_of_cylinder_and_cone():
    cut = run("G0 X20 Y15\nG1 Z5\nG0 Z40", DRILL, 0.1)
    point = 4.0 / math.tan(math.radians(59.0))
    exact = math.pi * 16.0 * (10.0 - point) + math.pi * 16.0 * point / 3.0
    assert taken(cut, 0.1) == pytest.approx([exact] * 3, rel=0.005)


def test_a_drilled_cone_has_the_length_of_the_worked_example():
    """Worked example HT-01: a 7/8 in drill of 118° has a point of 0.2629 in (published 0.2629)."""
    inch = 25.4
    tool = Tool(1, "7/8", ToolShape.DRILL, 0.875 * inch, point_angle_deg=118.0)
    cut = run("G0 X20 Y15\nG1 Z3\nG0 Z40", tool)
    (floor, *_), (x, y) = at_place(cut, 2, (20.0, 15.0 + 0.875 * inch / 2 - 0.3))
    away = math.hypot(x - 20.0, y - 15.0)
    assert (floor[1] - 3.0) / away * (0.875 * inch / 2) == pytest.approx(0.2629 * inch, abs=0.0001 * inch)


def test_a_helix_bore_has_its_volume_and_its_wall_within_a_fiftieth_of_a_millimetre():
    lines = (
        "G0 X23 Y15 Z16\n" + "\n".join(f"G3 X23 Y15 I-3 J0 Z{14 - turn}" for turn in range(10)) + "\nG3 X23 Y15 I-3 J0"
    )
    cut = run(lines)
    radius = 3.0 + 3.0
    assert taken(cut) == pytest.approx([math.pi * radius**2 * 10.0] * 3, rel=0.006)
    for axis, place in ((0, (16.0, 8.0)), (1, (19.0, 8.0))):
        pieces, (across, _) = at_place(cut, axis, place)
        middle, other = (20.0, 15.0) if axis == 0 else (15.0, 20.0)
        half = math.sqrt(radius**2 - (across - other) ** 2)
        assert (pieces[0, 1], pieces[1, 0]) == pytest.approx((middle - half, middle + half), abs=0.02)


def test_the_scallops_of_a_ball_have_the_height_of_the_worked_example():
    """Worked example CU-18: ball of 6 mm, step-over 0.5 mm, scallop 0.01043 mm (published 0.01043)."""
    lines = "G0 X-10 Y10 Z10\n" + "\n".join(f"G1 Y{10 + 0.5 * k}\nG1 X{50 if k % 2 == 0 else -10}" for k in range(12))
    cut = run(lines, BALL, 0.05, ((18.0, 8.0, 8.0), (18.5, 18.0, 12.0)))
    vertical = cut.columns.along(2)
    tops = vertical.extremes()[1][vertical.count.shape[0] // 2]
    y = cut.grid.middles(1)
    assert float(tops[(y > 11.0) & (y < 15.0)].max()) - 10.0 == pytest.approx(0.01043, abs=0.0006)


def test_a_face_milled_plate_is_flat_at_its_height():
    tool = Tool(1, "40 mm face mill", ToolShape.FACE, 40.0, flute_length_mm=6.0, point_angle_deg=90.0)
    cut = run("G0 X-30 Y8 Z13.5\nG1 X70\nG0 Y22\nG1 X-30", tool, 0.5)
    tops = cut.columns.along(2).extremes()[1]
    assert np.unique(tops[np.isfinite(tops)]).tolist() == [13.5]


def test_a_face_mill_leaves_its_lead_angle_at_a_wall():
    tool = Tool(1, "20 mm face mill", ToolShape.FACE, 20.0, flute_length_mm=6.0, point_angle_deg=90.0)
    cut = run("G0 X-30 Y0 Z10\nG1 X70", tool)
    (floor, *_), (_, y) = at_place(cut, 2, (20.0, 12.0))
    assert floor[1] == pytest.approx(10.0 + (y - 10.0), abs=1e-4)


@pytest.mark.parametrize(
    "tool",
    [
        FLAT,
        BALL,
        DRILL,
        Tool(1, "bull", ToolShape.BULL, 8.0, corner_radius_mm=1.5),
        Tool(1, "chamfer", ToolShape.CHAMFER, 8.0, point_angle_deg=90.0, tip_diameter_mm=1.0),
        Tool(1, "T-slot", ToolShape.SLOT, 12.0, flute_length_mm=3.0, neck_diameter_mm=5.0),
    ],
    ids=lambda tool: str(tool.shape),
)
def test_a_slope_takes_the_same_from_every_set(tool):
    """Three sets find the same volume by three formulas: lower ends, sections along X, sections along Y."""
    amounts = taken(run("G0 X5 Y11 Z16\nG1 X8 Z12\nX20 Y15 Z5\nX30 Y22 Z11\nZ4", tool, 0.1), 0.1)
    assert amounts == pytest.approx([sum(amounts) / 3] * 3, rel=0.006)


def test_a_t_slot_leaves_the_material_above_it():
    tool = Tool(1, "T-slot", ToolShape.SLOT, 12.0, flute_length_mm=3.0, neck_diameter_mm=5.0)
    cut = run("G0 X-10 Y15\nG0 Z5\nG1 X50", tool)
    pieces, _ = at_place(cut, 2, (20.0, 19.0))
    assert pieces == pytest.approx(np.array([[0.0, 5.0], [8.0, 15.0]]), abs=1e-5)
    assert cut.shank_mm.max() == pytest.approx(7.0, abs=1e-4)


def test_a_gouge_of_a_twentieth_in_a_straight_wall_is_found_at_four_times_its_size():
    """At a 0.2 mm grid, 0.05 mm deep, two grid steps wide and long."""
    wall = "G0 X6 Y-10 Z5\nG1 Y40\nX10\nY-10\nG0 Z40"
    gouge = "\nG0 X10 Y15\nG0 Z39\nG0 X9.5\nG0 Z5\nG1 X10.05\nG1 Y15.4\nX9.5\nG0 Z40"
    good, bad = run(wall), run(wall + gouge)
    before, after = good.columns.along(0), bad.columns.along(0)
    moved = after.ends[..., 1, 0] - before.ends[..., 1, 0]
    both = (before.count == 2) & (after.count == 2)
    assert float(moved[both].max()) == pytest.approx(0.05, abs=1e-4)
    assert good.rapid_touched(motions(wall)).sum() == 0
    assert bad.thickest_mm[-5:].max() >= 0.0499


@pytest.mark.parametrize(("name", "factor"), [("82 deg", 0.575), ("90 deg", 0.5)])
def test_a_countersink_reaches_its_diameter_at_the_depth_of_the_worked_example(name, factor):
    """Worked example HT-10: 10 mm in a 5 mm hole, 90° needs 2.500 mm and 82° 2.876 mm (published 2.5 and 2.876)."""
    angle = float(name.split()[0])
    depth = {82.0: 2.876, 90.0: 2.5}[angle]
    tip = 5.0
    tool = Tool(1, "countersink", ToolShape.COUNTERSINK, 16.0, point_angle_deg=angle, tip_diameter_mm=tip)
    cut = run(f"G0 X20 Y15\nG1 Z{15 - depth}\nG0 Z40", tool, 0.1)
    pieces, (y, z) = at_place(cut, 0, (15.0, 14.96))
    slope = math.tan(math.radians(angle / 2))
    width = 2.0 * math.sqrt(((pieces[1, 0] - pieces[0, 1]) / 2.0) ** 2 + (y - 15.0) ** 2)
    assert width + 2.0 * (15.0 - z) * slope == pytest.approx(10.0, abs=0.002)
    assert factor == pytest.approx(depth / (10.0 - tip), abs=0.001)


def test_drill_point_factors_of_the_table_are_those_that_are_cut():
    """countersink-angles.csv: depth of a full cone as a factor of its diameter."""
    if not REFERENCE.is_dir():
        pytest.skip("the folder ../shared/reference with values to check against is not here")
    with (REFERENCE / "countersink-angles.csv").open() as file:
        next(file)
        rows = list(csv.DictReader(file))
    assert rows
    for row in rows:
        angle = float(row["included_angle_deg"])
        tool = Tool(1, "point", ToolShape.COUNTERSINK, 10.0, point_angle_deg=angle)
        cut = run("G0 X20 Y15\nG1 Z4\nG0 Z40", tool, 0.4)
        (floor, *_), (x, y) = at_place(cut, 2, (20.0, 17.5))
        measured = (floor[1] - 4.0) / (2.0 * math.hypot(x - 20.0, y - 15.0))
        assert measured == pytest.approx(float(row["depth_per_unit_diameter"]), abs=0.0006)


def test_the_same_cut_twice_takes_nothing_the_second_time():
    line = "G0 X8 Y15\nG0 Z39\nG1 Z9\nX32 Y18 Z8\nG2 X20 Y10 I-8 J-8\nG0 Z40\n"
    cut = run(line + line)
    second = np.arange(len(cut)) > 9
    assert cut.volume_mm3[~second].sum() > 500.0
    assert cut.volume_mm3[second].sum() == pytest.approx(0.0, abs=1e-3)


def test_what_is_cut_away_never_comes_back():
    part = run("G0 X8 Y15\nG1 Z9\nX32").columns
    more = run("G0 X8 Y15\nG0 Z20\nG1 X32", columns=part).columns
    assert more.volume == part.volume
    assert block().volume > part.volume
    assert part.volume < (BLOCK[1][0] + 1) * 31 * 16
