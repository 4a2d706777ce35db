"""What motions do, told from way, tool and material: each kind by a program that does it."""

import numpy as np
import pytest

from shopflow.core import nc
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.review.classing import USE_OF, Doing, classed
from shopflow.core.stock import shapes
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.removal import Conditions, remove
from shopflow.core.types import Tool, ToolShape, ToolUse

BLOCK = ((0.0, 0.0, -20.0), (40.0, 30.0, 0.0))
TOOLS = {
    tool.number: tool
    for tool in (
        Tool(1, "", ToolShape.FLAT, 10.0), Tool(2, "", ToolShape.BALL, 6.0, corner_radius_mm=3.0),
        Tool(3, "", ToolShape.DRILL, 5.0, point_angle_deg=118.0),
        Tool(4, "", ToolShape.SPOT, 8.0, point_angle_deg=90.0),
        Tool(5, "", ToolShape.CHAMFER, 8.0, point_angle_deg=90.0), Tool(6, "", ToolShape.FACE, 50.0),
        Tool(7, "", ToolShape.REAMER, 5.2), Tool(8, "", ToolShape.TAP, 6.0, pitch_mm=1.0),
        Tool(9, "", ToolShape.COUNTERBORE, 9.0), Tool(10, "", ToolShape.PROBE, 4.0),
    )
}  # fmt: skip


def does(lines, *, simulated=True, tools=TOOLS):
    """What the last motion of a program does."""
    text = f"G17 G21 G90 G94 G54 S3000 M3\n{lines}\nG0 Z60.\nM30\n"
    program = nc.read(text.encode())
    assert program.unread == ()
    cut = remove(
        shapes.box(grid_over(BLOCK, 0.4), BLOCK), program.motions, tools, Conditions(TYPICAL_MACHINE, threads=1)
    )
    doing = classed(program.motions, tools, cut if simulated else None)
    return [Doing(int(one)) for one in doing if one != Doing.NO_FEED][-1]


def begin(tool, x, y, z=5.0):
    return f"T{tool} M6\nG0 X{x} Y{y} Z40.\nG0 Z{z}\nF300\n"


HOLE = begin(3, 10, 10) + "G1 Z-12.\nG0 Z40.\n"
CASES = {
    "full slot": (begin(1, -10, 15, -3) + "G1 X50.", Doing.ROUGH),
    "thin pass along a wall": (begin(1, -10, -4.6, -8) + "G1 X50.", Doing.WALL),
    "thin pass over a floor": (begin(1, -10, 15, -0.4) + "G1 X50.", Doing.FLOOR),
    "face mill over the top": (begin(6, -30, 15, -1) + "G1 X70.", Doing.FACE),
    "end mill over all of the top": (
        begin(1, -10, 4, -1) + "G1 X50.\nG0 Y12\nG1 X-10\nG0 Y20\nG1 X50\nG0 Y27\nG1 X-10", Doing.FACE),
    "same pass again": (begin(1, -10, 15, -3) + "G1 X50.\nG1 X-10.", Doing.AIR),
    "feed over the part": (begin(1, -10, 15, 3) + "G1 X50.", Doing.AIR),
    "straight down with a mill": (begin(1, 20, 15) + "G1 Z-2.", Doing.PLUNGE),
    "down a slope": (begin(1, 10, 15, 0) + "G1 X30. Z-2.", Doing.RAMP),
    "helix to a bore": (begin(1, 22, 15, 0) + "G3 X22. Y15. I-2. J0. Z-1.\nG3 X22. Y15. I-2. J0. Z-2.\n"
                        "G3 X22. Y15. I-2. J0.", Doing.HELICAL),
    "ball along a slope": (begin(2, -5, 15, -0.6) + "G1 X45. Z-1.", Doing.SURFACE),
    "ball in a deep slot": (begin(2, -5, 15, -5) + "G1 X45.", Doing.ROUGH),
    "drill": (HOLE, Doing.DRILL),
    "spot drill on a bare face": (begin(4, 10, 10) + "G1 Z-2.", Doing.SPOT),
    "spot drill at the mouth of a hole": (HOLE + begin(4, 10, 10) + "G1 Z-3.", Doing.COUNTERSINK),
    "spot drill along an edge": (begin(4, 0, -5, -2) + "G1 Y35.", Doing.CHAMFER),
    "chamfer mill along an edge": (begin(5, 0, -5, -1) + "G1 Y35.", Doing.CHAMFER),
    "chamfer mill that breaks an edge": (begin(5, 0, -5, -0.25) + "G1 Y35.", Doing.DEBURR),
    "reamer": (HOLE + begin(7, 10, 10) + "G1 Z-10.", Doing.REAM),
    "tap": (HOLE + begin(8, 10, 10) + "G1 Z-8.", Doing.TAP),
    "counterbore": (HOLE + begin(9, 10, 10) + "G1 Z-4.", Doing.COUNTERBORE),
}  # fmt: skip


@pytest.mark.parametrize(("lines", "doing"), CASES.values(), ids=CASES)
def test_each_way_of_cutting_is_told(lines, doing):
    assert does(lines) is doing


def test_a_helix_from_which_a_pocket_goes_on_is_a_way_in_and_no_bore():
    lines = begin(1, 22, 15, 0) + "G3 X22. Y15. I-2. J0. Z-1.\nG3 X22. Y15. I-2. J0. Z-2.\nG1 X30."
    program = nc.read(f"G17 G21 G90 G94 G54 S3000 M3\n{lines}\nM30\n".encode())
    cut = remove(
        shapes.box(grid_over(BLOCK, 0.4), BLOCK), program.motions, TOOLS, Conditions(TYPICAL_MACHINE, threads=1)
    )
    assert set(classed(program.motions, TOOLS, cut).tolist()) & {Doing.RAMP, Doing.HELICAL} == {Doing.RAMP}


def test_comments_say_nothing():
    assert does("(FACE THE TOP)\n" + begin(1, -10, 15, -3) + "G1 X50. (DRILL)") is Doing.ROUGH


@pytest.mark.parametrize(
    ("lines", "doing"), [(HOLE, Doing.DRILL), (begin(1, -10, 15, -3) + "G1 X50.", Doing.UNKNOWN)],
    ids=["a drill", "a mill"],
)  # fmt: skip
def test_without_the_material_only_what_the_tool_tells_is_said(lines, doing):
    assert does(lines, simulated=False) is doing


def test_a_probe_and_a_tool_that_is_not_known_do_nothing_that_is_judged():
    program = nc.read(f"G17 G21 G90 G94 G54\n{begin(10, 0, 0)}G1 X5.\nT77 M6\nG1 X9.\nM30\n".encode())
    assert classed(program.motions, TOOLS)[-1] == Doing.UNKNOWN
    assert Doing.NO_FEED in classed(program.motions, TOOLS)[program.motions.tool == 10]


def test_every_use_that_a_shop_allows_is_one_that_is_told():
    assert set(USE_OF.values()) == set(ToolUse)
    assert np.uint8(max(Doing)) == max(Doing)
