"""What the tests of material removal share: a block, tools, programs read by the real reader."""

import math

from shopflow.core import nc
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.stock import shapes
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.removal import Conditions, remove
from shopflow.core.types import Tool, ToolShape

BLOCK = ((0.0, 0.0, 0.0), (40.0, 30.0, 15.0))
HEAD = "G17 G21 G90 G94 G54\nT1 M6\nS3000 M3\nG0 X-20 Y-20 Z40\nG0 Z39\n"
FLAT = Tool(1, "6 mm", ToolShape.FLAT, 6.0)
BALL = Tool(1, "6 mm ball", ToolShape.BALL, 6.0)


def motions(lines):
    """Motions of a program with tool 1 that begins at X-20 Y-20 Z39."""
    return nc.read(f"{HEAD}F500\n{lines}\nM30\n".encode()).motions


def block(pitch=0.2, solid=BLOCK):
    return shapes.box(grid_over(solid, pitch), solid)


def conditions(**given):
    return Conditions(machine=given.pop("machine", TYPICAL_MACHINE), threads=given.pop("threads", 1), **given)


def run(lines, tool=FLAT, pitch=0.2, solid=BLOCK, columns=None, **given):
    """The removal of a program's lines, tool 1, from a block."""
    start = block(pitch, solid) if columns is None else columns
    return remove(start, motions(lines), {1: tool}, conditions(**given))


def taken(removal, pitch=0.2, solid=BLOCK):
    """mm³ that each set of columns lost."""
    before = block(pitch, solid).volumes()
    return [one - other for one, other in zip(before, removal.columns.volumes(), strict=True)]


def slot_volume(diameter, length, depth):
    """A slot with round ends."""
    return depth * (length * diameter + math.pi / 4 * diameter**2)
