"""Time of motions, against closed forms and another library's figures (../shared/reference)."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.core import nc
from shopflow.core.cutting import time_kernels
from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time, rest_to_rest
from shopflow.core.types import ControlProfile

REFERENCE = Path(__file__).resolve().parents[3].parent / "shared" / "reference"
EVEN = replace(
    TYPICAL_MACHINE,
    rapid_mm_min=(12_000.0,) * 3,
    acceleration_mm_s2=(2_000.0,) * 3,
    max_feed_mm_min=60_000.0,
    tool_change_s=0.0,
    spindle_start_s=0.0,
)


def motions(lines):
    return nc.read(f"G17 G21 G90 G54 F1000\nG0 X0 Y0 Z0\n{lines}\n".encode()).motions


def seconds(lines, machine=EVEN, **options):
    """Time of the lines, without the first move from nowhere."""
    return float(cycle_time(motions(lines), machine, **options).row_s[1:].sum())


def test_rest_to_rest_agrees_with_the_reference_table():
    """motion-rest-to-rest.csv: closed form, each equal to a trajectory library's figure to 1e-6."""
    if not REFERENCE.is_dir():
        pytest.skip("the folder ../shared/reference with values to check against is not here")
    with (REFERENCE / "motion-rest-to-rest.csv").open() as file:
        next(file)
        rows = [row for row in csv.DictReader(file) if not row["j_max_mm_per_s3"]]
    assert len(rows) == 6
    for row in rows:
        values = (np.array([float(row[name])]) for name in ("distance_mm", "v_max_mm_per_s", "a_max_mm_per_s2"))
        assert rest_to_rest(*values)[0] == pytest.approx(float(row["time_s"]), abs=2e-6)


def test_a_long_rapid_is_a_trapezoid():
    """Worked example MO-01: 100 mm at 200 mm/s and 2000 mm/s²."""
    assert seconds("G0 X100") == pytest.approx(0.6)


def test_a_short_rapid_is_a_triangle():
    """Worked example MO-02: 5 mm never reaches the speed."""
    assert seconds("G0 X5") == pytest.approx(0.1)


def test_four_sides_with_full_stops():
    """Worked example MO-06: 4 × 50 mm at 1000 mm/min and 500 mm/s²."""
    machine = replace(EVEN, acceleration_mm_s2=(500.0,) * 3)
    square = "G1 X50\nY50\nX0\nY0"
    assert seconds(square, machine, corner_tolerance_mm=0.0) == pytest.approx(12.1333, abs=1e-4)


def test_length_over_feed_and_rapids():
    """Worked example MO-08: 635 mm at 300 mm/min, no acceleration; 12 rapids of 80 mm at 10 m/min, 1500 mm/s²."""
    machine = replace(EVEN, rapid_mm_min=(10_000.0,) * 3, acceleration_mm_s2=(1500.0,) * 3)
    rapids = "\n".join(f"G0 X{80 * (count % 2)}" for count in range(1, 13))
    cutting = seconds("G1 X635 F300", machine) - 5.0 / 1500.0  # one start and one stop cost v/a together
    assert cutting + seconds(rapids, machine) == pytest.approx(134.093, abs=1e-3)


def test_a_line_in_pieces_takes_as_long_as_the_line():
    pieces = "\n".join(f"G1 X{step}" for step in range(1, 51))
    assert seconds(pieces) == pytest.approx(seconds("G1 X50"))


def test_a_corner_costs_time_and_a_turn_back_costs_more():
    on, corner, back = (seconds(f"G1 X50 F6000\n{end}") for end in ("X100", "Y50", "X0"))
    assert on < corner < back


def test_exact_stops_cost_more_than_rounded_corners():
    square = "G1 X50\nY50\nX0\nY0"
    assert seconds(square, corner_tolerance_mm=0.0) > seconds(square, corner_tolerance_mm=0.01)


def test_a_rapid_between_two_feeds_brings_both_to_rest():
    """A start and a stop cost v/a more than steady feed."""
    v, a = 1000 / 60, 2000
    assert seconds("G1 X50\nG0 X51\nG1 X101") == pytest.approx(2 * (50 / v + v / a) + 2 * math.sqrt(1 / a))


def test_a_dwell_takes_its_seconds():
    assert seconds("G4 P2.5") == 2.5


def test_an_arc_takes_its_length_at_its_feed():
    v, a = 1000 / 60, 2000
    length = math.pi * 50
    assert seconds("G3 X0 Y100 J50") == pytest.approx(length / v + v / a)


def test_a_small_arc_is_slowed_by_its_own_curve():
    assert seconds("G3 X0 Y0.02 J0.01 F60000") > math.pi * 0.01 / math.sqrt(2000 * 0.01)


def test_a_tangent_arc_does_not_stop():
    v, a = 1000 / 60, 2000
    length = 50 + math.pi * 10
    assert seconds("G1 X50\nG3 X50 Y20 J10") == pytest.approx(length / v + v / a)


def test_a_feed_over_the_machine_runs_at_its_limit():
    assert seconds("G1 X500 F99999", replace(EVEN, max_feed_mm_min=600.0)) == pytest.approx(50 + 10 / 2000)


def test_a_slow_axis_slows_a_diagonal_rapid():
    slow_z = replace(EVEN, rapid_mm_min=(12_000.0, 12_000.0, 1_200.0))
    v, a = 20 * math.sqrt(2), 2000 * math.sqrt(2)
    assert seconds("G0 X100 Z100", slow_z) == pytest.approx(100 * math.sqrt(2) / v + v / a)


def test_without_straight_rapids_the_slowest_axis_counts():
    machine = replace(EVEN, rapid_mm_min=(12_000.0, 6_000.0, 6_000.0), control=ControlProfile(straight_rapids=False))
    assert seconds("G0 X100 Y100", machine) == pytest.approx(100 / 100 + 100 / 2000)


def test_tool_changes_and_spindle_starts_are_counted_by_tool():
    machine = replace(EVEN, tool_change_s=6.0, spindle_start_s=2.0, max_rpm=8000.0)
    time = cycle_time(motions("T1 M6\nS8000 M3\nG1 X1\nT2 M6\nS4000 M3\nG1 X2"), machine)
    assert time.tool_change_s.tolist() == [0, 6, 6]
    assert time.spindle_s.tolist() == [0, 2, 1]
    assert sum(time.by_tool.values()) == pytest.approx(time.total_s)
    assert list(time.by_tool) == [0, 1, 2]


def test_time_is_summed_by_work_offset():
    time = cycle_time(motions("G4 P1\nG55\nG4 P2"), EVEN)
    assert time.by_work_offset == {1: pytest.approx(1.0, abs=0.1), 2: 2.0}


def test_nothing_takes_no_time():
    assert cycle_time(nc.read(b"(nothing)").motions).total_s == 0.0


@given(
    st.lists(
        st.tuples(st.floats(0.001, 100), st.floats(0.1, 500), st.floats(1, 5000), st.floats(0, 500)),
        min_size=1,
        max_size=30,
    )
)
def test_the_look_ahead_never_asks_for_more_than_the_limits(rows):
    """Each piece takes at least length over speed, and the whole at most what every piece from rest would take."""
    length, speed, acceleration, corner = (np.array(column) for column in zip(*rows, strict=True))
    corner = np.minimum(corner, np.minimum(speed, np.roll(speed, 1)))
    corner[0] = 0.0
    planned = time_kernels.plan(length, speed, acceleration, corner)
    assert (planned >= length / speed - 1e-9).all()
    assert planned.sum() <= rest_to_rest(length, speed, acceleration).sum() * (1 + 1e-9) + 1e-9


@pytest.mark.parametrize("count", [1, 7, 400])
def test_the_compiled_look_ahead_gives_the_same(count):
    random = np.random.default_rng(count)
    columns = [random.uniform(0.01, 20, count) for _ in range(4)]
    assert np.allclose(time_kernels.compiled_plan()(*columns), time_kernels.plan(*columns), rtol=1e-12)
