"""A tool that does not cut in its middle goes straight down only where another drilled before."""

import pytest

from shopflow.core import nc, review
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.review import Weight
from shopflow.core.review.contact_rules import RULES
from shopflow.core.stock import shapes
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.removal import Conditions, remove
from shopflow.core.types import Tool, ToolShape

BLOCK = ((-10.0, -10.0, -12.0), (10.0, 10.0, 0.0))
TOOLS = {
    1: Tool(1, "drill 5", ToolShape.DRILL, 5.0, point_angle_deg=118.0, flute_length_mm=40.0),
    2: Tool(2, "counterbore 9", ToolShape.COUNTERBORE, 9.0, flute_length_mm=40.0, centre_cutting=False),
}
DRILL = "T1 M6\nG0 X{x}. Y0.\nG43 H1 Z5.\nG1 Z-{depth}. F100.\nG0 Z5.\n"
SINK = "T2 M6\nG0 X0. Y0.\nG43 H2 Z5.\nG1 Z-4. F100.\nG0 Z5.\n"


def found(text):
    program = nc.read(f"G21 G17 G90 G94 G54 S1000 M3\n{text}M30\n".encode())
    assert program.unread == ()
    blank = shapes.box(grid_over(BLOCK, 0.5), BLOCK)
    cut = review.Cut(remove(blank, program.motions, TOOLS, Conditions(TYPICAL_MACHINE, threads=1)))
    every = review.run(program, machine=TYPICAL_MACHINE, tools=TOOLS, cut=cut, rules=RULES)
    return [(one.tool, one.weight) for one in every if one.code == "plunge-not-centre-cutting"]


def test_a_counterbore_after_its_drill_is_no_finding():
    assert found(DRILL.format(x=0, depth=10) + SINK) == []


@pytest.mark.parametrize(
    "before",
    ["", DRILL.format(x=2, depth=10), DRILL.format(x=0, depth=2)],
    ids=["nothing was drilled", "drilled beside it", "drilled less deep"],
)
def test_a_plunge_into_full_material_must_be_mended(before):
    assert found(before + SINK) == [(2, Weight.MUST_FIX)]


def test_a_drill_that_comes_after_does_not_help():
    assert found(SINK + DRILL.format(x=0, depth=10)) == [(2, Weight.MUST_FIX)]
