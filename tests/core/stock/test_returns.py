"""Rapids along a way that the same tool has just fed are told apart from those that merely pass near."""

import numpy as np
import pytest

from shopflow.core import nc
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.stock import shapes
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.removal import Conditions, remove
from shopflow.core.stock.returns import returning
from shopflow.core.types import MotionKind, Tool, ToolShape

DRILL = Tool(1, "", ToolShape.DRILL, 5.0, point_angle_deg=118.0, flute_length_mm=40.0)
MILL = Tool(2, "", ToolShape.FLAT, 6.0, flute_length_mm=20.0)
TOOLS = {1: DRILL, 2: MILL}
BLOCK = ((0.0, 0.0, -20.0), (40.0, 30.0, 0.0))
HEAD = "G17 G21 G90 G94 G54\nT{tool} M6\nS2000 M3\n"


def motions_of(tool, *lines):
    program = nc.read((HEAD.format(tool=tool) + "\n".join([*lines, "M30"])).encode(), tools=TOOLS)
    assert program.unread == ()
    return program.motions


def nearest(motions, clearance=1.0):
    block = shapes.box(grid_over(BLOCK, 0.5), BLOCK)
    conditions = Conditions(TYPICAL_MACHINE, rapid_clearance_mm=clearance, threads=1)
    return float(remove(block, motions, TOOLS, conditions).rapid_gap_mm.min(initial=np.inf))


PECKED = motions_of(1, "G0 X10 Y10 Z20", "G83 X10 Y10 Z-15 R3 Q4 F200", "G80", "G0 Z20")


def test_pecks_go_back_into_their_own_hole_near_nothing():
    assert nearest(PECKED) == np.inf


def test_each_rapid_of_the_pecks_is_a_return():
    inside = (PECKED.kind == MotionKind.RAPID) & (PECKED.end[:, 2] < 0.0)
    assert inside.sum() >= 3 and returning(PECKED)[inside].all()


def test_a_rapid_into_the_hole_after_the_tool_left_it_is_no_return():
    again = motions_of(1, "G0 X10 Y10", "G0 Z3", "G1 Z-10 F200", "G0 Z3", "G0 X20", "G0 X10", "G0 Z-8", "G1 Z-9")
    assert nearest(again) < 0.05


def test_a_rapid_deeper_than_what_was_fed_is_no_return():
    deeper = motions_of(1, "G0 X10 Y10", "G0 Z3", "G1 Z-10 F200", "G0 Z3", "G0 Z-11")
    assert not returning(deeper)[-1]


def test_a_tool_that_goes_back_along_its_slot_passes_near_nothing():
    slot = motions_of(2, "G0 X-5 Y15", "G0 Z-3", "G1 X30 F300", "G0 X-5")
    assert nearest(slot) == np.inf


def test_a_tool_that_goes_on_at_rapid_beyond_where_it_began_is_no_return():
    slot = motions_of(2, "G0 X-5 Y15", "G0 Z-3", "G1 X30 F300", "G0 X-6")
    assert not returning(slot)[-1]


def test_another_tool_in_the_same_hole_is_no_return():
    lines = "G0 X10 Y10\nG0 Z3\nG1 Z-10 F200\nG0 Z3\nT2 M6\nG0 Z-5"
    assert not returning(motions_of(1, *lines.split("\n")))[-1]


@pytest.mark.parametrize("height", [0.4, 0.9])
def test_a_rapid_across_the_block_has_its_height_over_it(height):
    assert nearest(motions_of(2, "G0 X-5 Y15", f"G0 Z{height}", "G0 X45")) == pytest.approx(height, abs=1e-6)


def test_no_motions_return_nowhere():
    none = motions_of(2)
    assert len(returning(none)) == len(none)
