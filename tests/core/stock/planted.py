"""A small part, its program, and the same program with faults planted in it, each with the line it stands in.

The part: a block of 60 × 40 × 20 mm with a step on the right, a pocket with sharp corners and a boss, two through holes
in the step, three blind ones between pocket and step, and a chamfer on the upper left edge. It stands in a vise whose
jaws reach 10 mm up. The program is written in the model's own coordinates.
"""

from dataclasses import dataclass
from functools import cache

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Pnt, gp_Vec

from shopflow.core import nc, review, solid
from shopflow.core.cutting.time import TYPICAL_MACHINE, cycle_time
from shopflow.core.stock import air, shapes
from shopflow.core.stock.compare_plan import OtherSetups, compare_setup, part_in
from shopflow.core.stock.grid import grid_over
from shopflow.core.stock.removal import Conditions, remove
from shopflow.core.types import Holder, Placement, Tool, ToolShape
from tests.core.solid import parts

BLANK = ((0.0, 0.0, 0.0), (60.0, 40.0, 21.0))
JAWS = (((-5.0, -10.0, -10.0), (65.0, 0.0, 10.0)), ((-5.0, 40.0, -10.0), (65.0, 50.0, 10.0)))


def mill(number, diameter, flutes, stickout, shank=None, holder=20.0, **more):
    return Tool(
        number, f"{diameter} mm end mill", ToolShape.FLAT, diameter, flute_length_mm=flutes, stickout_mm=stickout,
        shank_diameter_mm=shank or diameter, holder=Holder("holder", ((0.0, holder),)), **more,
    )  # fmt: skip


def drill(number, diameter):
    return Tool(number, f"{diameter} mm drill", ToolShape.DRILL, diameter, point_angle_deg=118.0, flute_length_mm=40.0)


TOOLS = {
    tool.number: tool
    for tool in (
        Tool(1, "50 mm face mill", ToolShape.FACE, 50.0),
        mill(2, 10.0, 25.0, 40.0, holder=30.0),
        mill(3, 6.0, 12.0, 25.0),
        drill(4, 5.0),
        drill(5, 4.0),
        Tool(6, "8 mm chamfer mill", ToolShape.CHAMFER, 8.0, point_angle_deg=90.0),
        mill(8, 6.0, 7.0, 7.0, holder=24.0),
        mill(9, 6.0, 5.0, 40.0),
        mill(10, 3.0, 4.0, 40.0, shank=6.0),
        mill(11, 6.0, 12.0, 25.0, centre_cutting=False),
    )
}


def shape():
    """The part, built with Open CASCADE."""
    body = parts.cut(parts.box(60, 40, 20), parts.box(15, 40, 8, (45, 0, 12)), parts.box(28, 24, 8, (8, 8, 12)))
    body = parts.fuse(body, parts.cylinder(4, 8, (22, 20, 12)))
    through = [parts.drill(5, 20, (50, y, 14), point_deg=None) for y in (8, 32)]
    blind = [parts.drill(4, 10, (40.5, y, 20)) for y in (6, 20, 34)]
    return parts.cut(body, *through, *blind, _wedge())


def _wedge():
    outline = BRepBuilderAPI_MakePolygon()
    for x, z in ((-1, 18), (-1, 21), (2, 21)):
        outline.Add(gp_Pnt(x, -1, z))
    outline.Close()
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(outline.Wire()).Face(), gp_Vec(0, 42, 0)).Shape()


BLIND_TIP = 20.0 - 10.0 - 1.2017
CLEAN = f"""\
:start|G17 G21 G90 G94 G54
:|T1 M6
:|S2000 M3
:|G0 X-30 Y20 Z60
:|G0 Z20
:|G1 X90 F800
:|G0 Z60
:|T2 M6
:|S4000 M3
:|G0 X50 Y-8
:|G0 Z16
:step wall high|G1 Y48 F800
:|G0 Z22
:|G0 X57 Y-8
:|G0 Z16
:|G1 Y48
:|G0 Z22
:|G0 X50 Y-8
:step wall place|G0 Z12
:step wall low|G1 Y48
:|G0 Z22
:|G0 X57 Y-8
:step floor height|G0 Z12
:step floor|G1 Y48
:after the step|G0 Z60
:before the pocket|T3 M6
:|S8000 M3
:|G0 X11 Y11
:|G0 Z22
:pocket in|G1 Z12 F500
:left wall|Y29
:to right wall|X33
:right wall|Y11
:|X11
:pocket floor in|X15 F3000
:pocket floor|Y29 F500
:|X29 F3000
:|Y11 F500
:|Y20 F3000
:boss|G2 X29 Y20 I-7 J0 F500
:after the pocket|G0 Z22
:|G0 Z60
:|T4 M6
:|S3000 M3
:|G0 X50 Y8
:|G0 Z22
:|G98 G81 X50 Y8 Z-2.5 R14 F300
:second through hole|X50 Y32
:|G80
:after the through holes|G0 Z60
:|T5 M6
:|S3500 M3
:|G0 X40.5 Y6
:|G0 Z24
:first blind hole|G98 G81 X40.5 Y6 Z{BLIND_TIP:.3f} R22 F300
:second blind hole|X40.5 Y20 Z{BLIND_TIP:.3f}
:third blind hole|X40.5 Y34 Z{BLIND_TIP:.3f}
:|G80
:|G0 Z60
:|T6 M6
:|S5000 M3
:|G0 X-2 Y-6
:|G0 Z17
:chamfer|G1 Y46 F600
:|G0 Z60
:last|M30"""


@dataclass(frozen=True)
class Fault:
    """kind: in words. code: of the finding that must name one of the lines of `text`, put in place of, or after, the
    line with this tag. text: "" takes the line out; the finding then names the last line."""

    kind: str
    code: str
    tag: str
    text: str
    is_after: bool = False


def _after(kind, code, tag, text):
    return Fault(kind, code, tag, text, True)


FAULTS = (
    Fault("wall gouged by 0.2 mm", "gouge", "pocket in", "X10.8\nG1 Z12 F500"),
    Fault("floor 0.1 mm too deep", "gouge", "pocket floor", "Z11.9\nY29 F500\nZ12"),
    Fault("floor 0.1 mm too deep", "gouge", "step floor height", "G0 Z11.9"),
    Fault("boss gouged by 0.2 mm", "gouge", "boss", "G1 X28.8\nG2 X28.8 Y20 I-6.8 J0 F500\nG1 X29"),
    Fault("hole too deep", "gouge", "first blind hole", f"G98 G81 X40.5 Y6 Z{BLIND_TIP - 1:.3f} R22 F300"),
    Fault("stock left on a wall", "stock-left", "to right wall", "X32.8"),
    Fault("hole too shallow", "stock-left", "second blind hole", f"X40.5 Y20 Z{BLIND_TIP + 2:.3f}"),
    Fault("hole missed", "feature-untouched", "second through hole", ""),
    Fault("hole missed", "feature-untouched", "third blind hole", ""),
    Fault("chamfer missed", "feature-untouched", "chamfer", ""),
    _after("rapid through a boss", "rapid-through-material", "after the pocket",
           "G0 X30.5 Y20\nG0 Z15\nG0 X13.5\nG0 Z22"),
    _after("rapid through a wall", "rapid-through-material", "after the pocket", "G0 X29 Y26\nG0 Z18\nG0 X50\nG0 Z22"),
    _after("jaw milled", "workholding-touched", "after the step", "G0 X57 Y-7\nG0 Z22\nG1 Z9 F2000\nG0 Z60"),
    _after("jaw hit at rapid", "workholding-touched", "after the through holes", "G0 X30 Y45\nG0 Z5\nG0 Z60"),
    _after("rapid 0.4 mm over the part", "rapid-too-near", "after the pocket",
           "G0 X-10 Y36\nG0 Z20.4\nG0 X70\nG0 Z22"),
    _after("rapid 0.5 mm over a jaw", "rapid-too-near", "after the pocket", "G0 X-10 Y-6\nG0 Z10.5\nG0 X70\nG0 Z22"),
    _after("holder rubs a wall", "holder-rubs", "after the pocket",
           "G0 Z60\nT8 M6\nG0 X14 Y15\nG0 Z22\nG1 Z12.2 F2000\nG0 Z60"),
    _after("shank rubs a wall", "shank-rubs", "after the pocket",
           "G0 Z60\nT10 M6\nG0 X10 Y16\nG0 Z22\nG1 Z12.2 F2000\nG0 Z60"),
    _after("deeper than the flutes", "past-the-flutes", "after the pocket",
           "G0 Z60\nT9 M6\nG0 X28 Y11\nG0 Z22\nG1 Z12.2 F2000\nG0 Z60"),
    _after("direct plunge", "plunge-not-centre-cutting", "after the step",
           "T11 M6\nG0 X29 Y15\nG0 Z22\nG1 Z13 F2000\nG0 Z60"),
    _after("pass run twice", "air-cut", "after the pocket",
           "T3 M6\nG0 X14.8 Y14\nG0 Z14\nG1 Z12 F500\nY26 F100\nG0 Z22"),
    _after("feed over the part", "air-cut", "after the pocket", "G0 X0 Y20 Z25\nG1 X50 F300\nG0 Z60"),
)  # fmt: skip


@dataclass(frozen=True)
class Planted:
    """A program and, for each fault in it, the lines that may be named for it."""

    text: str
    lines: tuple[frozenset[int], ...]


def planted(faults):
    lines = [line[1:].split("|", 1) for line in CLEAN.split("\n")]
    text, at = [], [frozenset() for _ in faults]
    for tag, words in lines:
        here = [number for number, fault in enumerate(faults) if tag and fault.tag == tag]
        instead = next((number for number in here if not faults[number].is_after), None)
        pieces = [(None, words)] if instead is None else [(instead, faults[instead].text)]
        pieces += [(number, faults[number].text) for number in here if faults[number].is_after]
        for number, piece in pieces:
            first = len(text) + 1
            text += piece.split("\n") if piece else []
            if number is not None:
                # A pass goes on to where the line after it begins, and may be blamed on either.
                at[number] = frozenset(range(first, len(text) + 2))
    last = len(text)
    missed = [not fault.text for fault in faults]
    return Planted(
        "\n".join(text), tuple(frozenset({last}) if gone else one for gone, one in zip(missed, at, strict=True))
    )


@cache
def model(folder):
    """The part's reading; its mesh to 0.005 mm."""
    return solid.read(parts.write(shape(), folder / "planted.step"), deflection_mm=0.005)


RULES = (*review.contact_rules.RULES, *review.result_rules.RULES, *review.air_rules.RULES)


def findings(text, reading, pitch, *, changed=None, with_model=True):
    """What the rules about cutting find in a program. changed: limits that the shop set."""
    program = nc.read(text.encode())
    assert program.unread == ()
    conditions = Conditions(TYPICAL_MACHINE, workholding=JAWS, rapid_clearance_mm=1.0, threads=1)
    removal = remove(shapes.box(grid_over(BLANK, pitch), BLANK), program.motions, TOOLS, conditions)
    seconds = cycle_time(program.motions).row_s
    cut = review.Cut(
        removal,
        compared(removal, program, conditions, reading) if with_model else None,
        air=air.air_cuts([removal], program.motions, seconds, limit_mm3=0.5),
    )
    return review.run(
        program,
        machine=TYPICAL_MACHINE,
        tools=TOOLS,
        cut=cut,
        rules=RULES,
        house_rules=review.HouseRules(changed or {}),
    )


def compared(removal, program, conditions, reading):
    """As a review compares a job of one setup."""
    part = part_in(reading, reading.mesh, Placement(), removal.grid)
    return compare_setup(
        part, shapes.box(removal.grid, BLANK), removal, program.motions, TOOLS, conditions,
        others=OtherSetups(), edge_break_mm=0.5,
    )  # fmt: skip


def judged(faults, found, at):
    """(missed faults, false alarms): an alarm is false where it names no line of any fault."""
    missed = [
        fault
        for fault, lines in zip(faults, at, strict=True)
        if not any(one.code == fault.code and lines & set(one.lines) for one in found)
    ]
    allowed = {
        (fault.code if not fault.text else "", line) for fault, lines in zip(faults, at, strict=True) for line in lines
    }
    return missed, [one for one in found if not any({("", n), (one.code, n)} & allowed for n in one.lines)]
