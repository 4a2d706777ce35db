"""Four small parts of our own, each with its model, tools, setup and a clean program, whose lines carry tags.

A line "tag|words": what stands before the bar is its name, by which a fault or a benign change finds it.
"""

from dataclasses import dataclass, replace

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Pnt, gp_Vec

from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.nc import CONTROLS
from shopflow.core.review import PersonTouch, PlanFacts
from shopflow.core.review.setup_values import SetupBlock, SetupFile
from shopflow.core.stock.holding import Solid
from shopflow.core.types import Holder, Material, Tool, ToolMaterial, ToolShape, ToolUse
from tests.core.solid import parts

CONTROL = replace(CONTROLS["calculator"], coolant_codes=(("M88", 4), ("M89", 8)), tool_change_retracts=False)
MACHINE = replace(TYPICAL_MACHINE, name="mill", through_coolant=True, control=CONTROL)
ALUMINIUM = Material("aluminium 6061", "aluminium", 2700.0, 0.008)
STAINLESS = Material("stainless 303", "stainless steel", 8000.0, 0.0651)
CHUCK = Holder("", ((0.0, 30.0), (40.0, 40.0)))


def tool(number, shape, diameter, *uses, flutes=2, length=20.0, stickout=36.0, **more):
    return Tool(
        number, f"{diameter:g} mm {shape.value}", shape, diameter, flutes=flutes, flute_length_mm=length,
        stickout_mm=stickout, shank_diameter_mm=diameter, holder=CHUCK,
        uses=frozenset(ToolUse[use] for use in uses), **more,
    )  # fmt: skip


HSS = ToolMaterial.HSS
TOOLS = (
        tool(1, ToolShape.FACE, 50.0, "FACE", flutes=4, length=8.0, stickout=45.0, material=ToolMaterial.INSERT),
        tool(2, ToolShape.FLAT, 10.0, "ROUGH", "HELICAL", flutes=3),
        tool(3, ToolShape.FLAT, 6.0, "WALL", "FLOOR", flutes=3),
        tool(4, ToolShape.SPOT, 10.0, "SPOT", point_angle_deg=120.0),
        tool(5, ToolShape.DRILL, 5.0, "DRILL", length=50.0, stickout=60.0, material=HSS, point_angle_deg=118.0),
        tool(6, ToolShape.CHAMFER, 10.0, "CHAMFER", "DEBURR", length=4.5, point_angle_deg=90.0, tip_diameter_mm=1.0),
        tool(7, ToolShape.TAP, 6.0, "TAP", length=20.0, stickout=50.0, material=HSS, pitch_mm=1.0, max_rpm=1500.0,
             centre_cutting=False),
        tool(8, ToolShape.DRILL, 8.0, "DRILL", length=50.0, stickout=60.0, point_angle_deg=140.0, through_coolant=True),
        tool(9, ToolShape.DRILL, 6.0, "DRILL", length=50.0, stickout=60.0, material=HSS, point_angle_deg=118.0),
        tool(10, ToolShape.FLAT, 6.0, "ROUGH", flutes=3, centre_cutting=False),
        tool(11, ToolShape.FLAT, 6.0, "WALL", "FLOOR", "ROUGH", flutes=3, length=6.0, stickout=8.0),
        tool(12, ToolShape.FLAT, 12.0, "ROUGH", flutes=4, length=24.0, stickout=40.0),
        tool(13, ToolShape.SPOT, 10.0, "SPOT", point_angle_deg=90.0),
        tool(14, ToolShape.FLAT, 3.0, "ROUGH", "WALL", "FLOOR", flutes=2, length=12.0, stickout=30.0, material=HSS),
)  # fmt: skip


@dataclass(frozen=True)
class Piece:
    """shape: a function that makes the model. lines: of the clean program, with their tags."""

    name: str
    shape: object
    said: SetupFile
    lines: tuple[str, ...]


def piece(name, shape, text, material, blank, setups, **plan):
    used = frozenset(int(line.partition("|")[2][1:].split()[0]) for line in text.split("\n") if "M6" in line)
    offsets = tuple(block.work_offset for block in setups)
    said = SetupFile(
        f"{name}.step", MACHINE, blank, blank, setups, TOOLS, material=material,
        plan=PlanFacts(work_offsets=offsets, tools=tuple(sorted(used)), **plan),
    )  # fmt: skip
    return Piece(name, shape, said, tuple(text.strip().split("\n")))


def vise(x, y, top, bottom, grip):
    """Jaws along X at both sides of a stock from 0 to y, on parallels of 4 mm at the jaws, 25 mm over a bed."""
    bed, edge = bottom - 25.0, (-20.0, x + 20.0)
    boxes = {
        "front jaw": ((edge[0], -20.0, bed), (edge[1], 0.0, bottom + grip)),
        "back jaw": ((edge[0], y, bed), (edge[1], y + 20.0, bottom + grip)),
        "parallel in front": ((edge[0], 0.0, bed), (edge[1], 4.0, bottom)),
        "parallel behind": ((edge[0], y - 4.0, bed), (edge[1], y, bottom)),
        "bed": ((edge[0], -20.0, bed - 1.0), (edge[1], y + 20.0, bed)),
    }
    return tuple(Solid(name, box) for name, box in boxes.items())


HEAD = "top|%\n|O100\nmodes|G21 G17 G40 G49 G80 G90 G94"


def begin(number, x, y, rpm, coolant="M8", offset="G54", tag=None):
    tag = tag or f"T{number}"
    return (
        f"{tag} call|T{number} M6\n{tag} speed|{offset} G0 X{x} Y{y} S{rpm} M3\n"
        f"{tag} length|G43 H{number} Z50. {coolant}\n"
        f"{tag} near|Z5."
    )


def end(tag):
    return f"{tag} up|G0 Z50. M9\n{tag} off|M5\n{tag} home|G53 G0 Z0."


# Plate: 60 x 40 x 12, faced; a pocket 24 x 16 x 5 with 3 mm corners, four M6 through, a 1 mm chamfer on the left edge.


def plate():
    body = parts.cut(parts.box(60, 40, 12), _pocket())
    body = parts.cut(body, *(parts.drill(5, 12, (x, y, 12), point_deg=None) for x, y in HOLES))
    return parts.cut(body, _left_edge())


HOLES = ((8, 8), (52, 8), (8, 32), (52, 32))


def _pocket():
    pocket = parts.box(24, 16, 6, (18, 12, 7))
    return parts.fillet(pocket, 3.0, lambda middle: abs(middle[2] - 10.0) < 0.1)


def _left_edge():
    outline = BRepBuilderAPI_MakePolygon()
    for x, z in ((-1, 10), (-1, 13), (2, 13)):
        outline.Add(gp_Pnt(x, -1, z))
    outline.Close()
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(outline.Wire()).Face(), gp_Vec(0, 42, 0)).Shape()


RAMPS = "\n".join(f"ramp {n}|X{'34.' if n % 2 == 0 else '26.'} Z{-0.4 - 0.8 * n:.1f}" for n in range(6))
PLATE = f"""{HEAD}
{begin(1, "-30.", "10.", 3000)}
face in|G1 Z0. F800.
face 1|X90. F1500.
face over|Y30.
face 2|X-30.
{end("T1")}
{begin(2, "26.", "20.", 8000)}
rough in|G1 Z0.4 F800.
{RAMPS}
rough floor|X34. Z-4.8 F1200.
rough 0|X26.
rough 1|X23.4 Y17.4
rough 2|X36.6
rough 3|Y22.6
rough 4|X23.4
rough 5|Y17.4
{end("T2")}
{begin(3, "30.", "20.", 8000)}
finish near|Z-3.5
floor in|G1 Z-5. F150.
floor 1|X22. F700.
floor 2|Y16.
floor 3|X38.
floor 4|Y24.
floor 5|X22.
floor 6|Y20.
floor 7|X38.
wall in|X39. Y20.
wall 1|Y25.
wall 2|X21.
wall 3|Y15.
wall 4|X39.
wall 5|Y20.
wall out|X30.
{end("T3")}
{begin(4, "8.", "8.", 5000)}
spot 1|G81 G99 X8. Y8. Z-1.2 R2. F400.
spot 2|X52.
spot 3|Y32.
spot 4|X8.
spots|G80
{end("T4")}
{begin(5, "8.", "8.", 4500)}
drill 1|G81 G99 X8. Y8. Z-17. R2. F450.
drill 2|X52.
drill 3|Y32.
drill 4|X8.
drills|G80
{end("T5")}
{begin(7, "8.", "8.", 500)}
tap 1|G84 G99 X8. Y8. Z-13.4 R5. F500.
tap 2|X52.
tap 3|Y32.
tap 4|X8.
taps|G80
{end("T7")}
{begin(6, "-1.", "-8.", 7000)}
chamfer in|Z-1.5
chamfer|G1 Y48. F500.
{end("T6")}
last|M30
|%"""

PLATE_SETUP = SetupBlock(1, "G54", "+Z", "+X", (0.0, 0.0, 12.0), vise(60.0, 40.0, 0.0, -12.0, 5.0))
THE_PLATE = piece("plate", plate, PLATE, ALUMINIUM, ((0.0, 0.0, 0.0), (60.0, 40.0, 13.0)), (PLATE_SETUP,))


# Bar: 40 x 30 x 30 stainless, squared; a slot 12 x 6 along X, a blind hole 6 x 25, an 8 mm hole 24 deep.


def bar():
    body = parts.cut(parts.box(40, 30, 30), parts.box(42, 12, 7, (-1, 9, 24)))
    return parts.cut(
        body, parts.drill(6, 25, (10, 4.5, 30), point_deg=118.0), parts.drill(8, 24, (30, 25.5, 30), point_deg=140.0)
    )


BAR = f"""{HEAD}
{begin(12, "-10.", "15.", 2000)}
slot in 1|Z-2.
slot 1|G1 X50. F280.
slot in 2|G0 Z-4.
slot 2|G1 X-10.
slot in 3|G0 Z-6.
slot 3|G1 X50.
{end("T12")}
{begin(4, "10.", "4.5", 1000)}
spot|G81 G99 X10. Y4.5 Z-1.4 R2. F60.
spots|G80
{end("T4")}
{begin(9, "10.", "4.5", 600)}
peck|G83 G99 X10. Y4.5 Z-26.803 R2. Q5. F40.
pecks|G80
{end("T9")}
{begin(8, "30.", "25.5", 1200, "M88")}
deep|G81 G99 X30. Y25.5 Z-25.456 R2. F120.
deeps|G80
{end("T8")}
last|M30
|%"""
BAR_SETUP = SetupBlock(1, "G54", "+Z", "+X", (0.0, 0.0, 30.0), vise(40.0, 30.0, 0.0, -30.0, 15.0))
THE_BAR = piece("bar", bar, BAR, STAINLESS, ((0.0, 0.0, 0.0), (40.0, 30.0, 30.0)), (BAR_SETUP,))


# Pair: 40 x 30 x 15 in two vises of one load, faced on both sides, two holes from the first. Nobody touches it.


def pair():
    return parts.cut(parts.box(40, 30, 15), *(parts.drill(8, 15, (x, 15, 15), point_deg=None) for x in (12, 28)))


def faced(tag, offset):
    return f"""{begin(1, "-30.", "15.", 3000, offset=offset, tag=tag)}
{tag} in|G1 Z0. F800.
{tag} face|X70. F1500.
{end(tag)}"""


PAIR = f"""{HEAD}
{faced("first", "G54")}
{begin(8, "12.", "15.", 6000, "M88")}
hole 1|G81 G99 X12. Y15. Z-17. R2. F1000.
hole 2|X28.
holes|G80
{end("T8")}
{faced("second", "G55")}
last|M30
|%"""
SIDES = (
    SetupBlock(1, "G54", "+Z", "+X", (0.0, 0.0, 15.0), vise(40.0, 30.0, 0.0, -16.0, 6.0), later=("-Z",)),
    SetupBlock(2, "G55", "-Z", "+X", (0.0, 30.0, 0.0), vise(40.0, 30.0, 0.0, -15.0, 6.0), known=("+Z",)),
)
PAIR_BLANK = ((0.0, 0.0, -1.0), (40.0, 30.0, 16.0))
THE_PAIR = piece("pair", pair, PAIR, ALUMINIUM, PAIR_BLANK, SIDES)


# Turned: the same body without holes but with a step, in one vise: a person turns it over at a stop.


def turned():
    return parts.cut(parts.box(40, 30, 15), parts.box(12, 32, 5, (-1, -1, 11)))


TURNED = f"""{HEAD}
{faced("first", "G54")}
{begin(2, "5.7", "-10.", 8000)}
step in|Z-4.
step 1|G1 Y40. F1200.
step near|G0 X2.
step 2|G1 Y-10.
{end("T2")}
{begin(3, "8.", "-10.", 8000)}
finish in|Z-4.
finish|G1 Y40. F700.
{end("T3")}
stop|M00 (TURN THE PART OVER, G55)
{faced("second", "G55")}
last|M30
|%"""
TURNED_SIDES = (
    SetupBlock(1, "G54", "+Z", "+X", (0.0, 0.0, 15.0), vise(40.0, 30.0, 0.0, -16.0, 6.0), later=("-Z",)),
    replace(SIDES[1], solids=vise(40.0, 30.0, 0.0, -15.0, 6.0)),
)
TOUCH = PersonTouch(1, "turn the part over", "G54", "G55")
THE_TURNED = piece("turned", turned, TURNED, ALUMINIUM, PAIR_BLANK, TURNED_SIDES, person_touches=(TOUCH,))

PIECES = (THE_PLATE, THE_BAR, THE_PAIR, THE_TURNED)
