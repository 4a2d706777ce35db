"""The thin choice of columns that pictures are drawn from: the same as the full run, after every motion."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.core.stock.removal import remove
from shopflow.core.stock.replay import Replay
from shopflow.core.types import Tool, ToolShape
from tests.core.stock.cutting_help import BALL, FLAT, block, conditions, motions

TOOLS = (
    FLAT,
    BALL,
    Tool(1, "", ToolShape.DRILL, 4.0, point_angle_deg=118.0),
    Tool(1, "", ToolShape.SLOT, 12.0, flute_length_mm=3.0, neck_diameter_mm=5.0),
)
COARSE = 0.5


def feeds(points):
    return motions("\n".join(f"G1 X{x:.3f} Y{y:.3f} Z{z:.3f}" for x, y, z in points))


def heights(columns, step):
    low, top = (ends[::step, ::step].reshape(-1) for ends in columns.along(2).extremes())
    gone = ~np.isfinite(low)
    return np.where(gone, 1, low), np.where(gone, 0, top)


def heights_after(changes, start, motions):
    """Heights once the changes of the first `motions` motions are made."""
    low, top = (one.copy() for one in start)
    for row in np.flatnonzero(changes.motion < motions):
        low[changes.cell[row]], top[changes.cell[row]] = changes.low[row], changes.top[row]
    return low, top


places = st.tuples(st.floats(-5.0, 45.0), st.floats(-5.0, 35.0), st.floats(-2.0, 17.0))


@settings(max_examples=20, deadline=None)
@given(st.lists(places, min_size=2, max_size=6), st.sampled_from(TOOLS), st.integers(10, 80))
def test_after_every_motion_the_chosen_columns_stand_as_in_a_run_up_to_it(points, tool, most):
    columns, rows = block(COARSE).vertical_only(), feeds(points)
    replay = Replay(columns, {1: tool}, conditions(), most_a_side=most)
    step, start = math.ceil(max(columns.shape[:2]) / most), replay.heights
    changes = replay.run(rows, 0, len(rows))
    for end in range(len(rows) + 1):
        wanted = heights(remove(columns, rows, {1: tool}, conditions(), end=end).columns, step)
        np.testing.assert_array_equal(heights_after(changes, start, end), wanted)


WAY = feeds([(0.0, 5.0, 8.0), (30.0, 5.0, 7.0), (30.0, 15.0, 6.0), (0.0, 15.0, 9.0)])


def test_two_runs_one_after_the_other_find_the_same_as_one():
    whole, halves = (Replay(block(COARSE), {1: BALL}, conditions(), most_a_side=50) for _ in range(2))
    parts, wanted = [halves.run(WAY, 0, 6), halves.run(WAY, 6, len(WAY))], whole.run(WAY, 0, len(WAY))
    for name in ("motion", "cell", "low", "top"):
        found = np.concatenate([getattr(part, name) for part in parts])
        np.testing.assert_array_equal(found, getattr(wanted, name))


@pytest.mark.parametrize("room", [1, 5000])
def test_little_room_for_changes_finds_them_all_in_more_goes(monkeypatch, room):
    wanted = Replay(block(COARSE), {1: FLAT}, conditions(), most_a_side=50).run(WAY, 0, len(WAY))
    monkeypatch.setattr("shopflow.core.stock.replay.ROOM", room)
    found = Replay(block(COARSE), {1: FLAT}, conditions(), most_a_side=50).run(WAY, 0, len(WAY))
    np.testing.assert_array_equal(found.cell, wanted.cell)


def test_the_stock_that_is_drawn_in_every_column_stays_as_it_was():
    columns = block(1.0)
    before = columns.volume
    Replay(columns, {1: FLAT}, conditions(), most_a_side=500).run(WAY, 0, len(WAY))
    assert columns.volume == before
