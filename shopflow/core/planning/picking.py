"""Which tool of the crib does a thing. Allowed uses bind: a tool whose list is not empty is taken for nothing else.

Among tools that fit, the largest end mill and the shortest drill are taken, and lower numbers first: large and short
bends least.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import tan

from shopflow.core.planning.rules import PlanRules
from shopflow.core.types import Tool, ToolShape, ToolUse

RADIANS = 0.017453292519943295
USUAL_POINT_DEG = 118.0
"""Point angle of a drill whose crib row does not say (common practice, no source)."""
END_MILLS = (ToolShape.FLAT, ToolShape.BULL)
SAME_MM = 1e-6
REAM_ALLOWANCE_MM = (0.1, 0.5)
"""How much smaller than the hole it is drilled before the reamer (common practice, no source)."""
PITCH_SAME_MM = 0.01
MAJOR_SAME_MM = 0.06
SURE_ANGLE_DEG = 1.0
HEAD_SETS_MM = 5.0
"""How far a boring head is set from its diameter, where the crib does not say between which it is (common practice,
no source)."""
THREAD_MILL_SHARE = 0.75
"""A thread mill is at most this share of the bore, or it cuts its own flanks away (common practice, no source)."""
LEAST_FACING_MM = 10.0
"""An end mill that faces where there is no face mill is no smaller (common practice, no source)."""


def may_be_used(tool: Tool, use: ToolUse) -> bool:
    return not tool.uses or use in tool.uses


def reach_mm(tool: Tool) -> float:
    """How deep an end mill gets: to its flutes' end, or to its holder where the neck is no thicker than the flutes."""
    is_relieved = 0 < tool.neck_diameter_mm < tool.diameter_mm
    return max(tool.flute_length_mm, tool.stickout_mm if is_relieved else 0.0)


def point_mm(tool: Tool) -> float:
    """Height of a drill's point: half the diameter over the tangent of half the point angle."""
    angle = tool.point_angle_deg if 0 < tool.point_angle_deg < 180 else USUAL_POINT_DEG
    return tool.diameter_mm / 2 / tan(angle / 2 * RADIANS)


def end_mills(crib: Iterable[Tool], use: ToolUse, depth_mm: float) -> list[Tool]:
    """Those that may do this and get as deep."""
    return [t for t in crib if t.shape in END_MILLS and may_be_used(t, use) and reach_mm(t) >= depth_mm - SAME_MM]


def largest(tools: Iterable[Tool], most_mm: float = float("inf")) -> Tool | None:
    """The widest that is no wider; of equal ones the shortest."""
    fitting = [tool for tool in tools if tool.diameter_mm <= most_mm + SAME_MM]
    return min(fitting, key=lambda tool: (-tool.diameter_mm, tool.flute_length_mm, tool.number), default=None)


def facing_tool(crib: Sequence[Tool], width_mm: float) -> Tool | None:
    """The face mill that covers the width, else the largest; without a face mill the largest end mill that may face."""
    able = [tool for tool in crib if tool.shape is ToolShape.FACE and may_be_used(tool, ToolUse.FACE)]
    if able:
        covering = [tool for tool in able if tool.diameter_mm >= width_mm]
        return min(covering, key=size_then_number) if covering else largest(able)
    return largest(
        t for t in crib if t.shape in END_MILLS and t.diameter_mm >= LEAST_FACING_MM and may_be_used(t, ToolUse.FACE)
    )


def drill_for(
    crib: Sequence[Tool], lowest_mm: float, highest_mm: float, depth_mm: float, *, is_blind_flat: bool = False
) -> Tool | None:
    """The shortest drill between two sizes that gets down with its whole point; none for a flat bottom."""
    if is_blind_flat:
        return None
    fitting = [
        tool
        for tool in crib
        if tool.shape is ToolShape.DRILL
        and may_be_used(tool, ToolUse.DRILL)
        and lowest_mm - SAME_MM <= tool.diameter_mm <= highest_mm + SAME_MM
        and tool.flute_length_mm >= depth_mm + point_mm(tool)
    ]
    return min(fitting, key=lambda tool: (tool.flute_length_mm, -tool.diameter_mm, tool.number), default=None)


def needs_spot(drill: Tool) -> bool:
    """A carbide drill starts by itself; one of high-speed steel wanders (common practice, no source)."""
    return drill.material.is_high_speed_steel


def spot_drill(crib: Sequence[Tool]) -> Tool | None:
    spots = [tool for tool in crib if tool.shape is ToolShape.SPOT and may_be_used(tool, ToolUse.SPOT)]
    return min(spots, key=size_then_number, default=None)


def reamer(crib: Sequence[Tool], diameter_mm: float, depth_mm: float, rules: PlanRules) -> Tool | None:
    fitting = [
        tool
        for tool in crib
        if tool.shape is ToolShape.REAMER
        and may_be_used(tool, ToolUse.REAM)
        and abs(tool.diameter_mm - diameter_mm) <= rules.drill_size_mm
        and max(tool.flute_length_mm, tool.stickout_mm) >= depth_mm
    ]
    return min(fitting, key=size_then_number, default=None)


def tap(crib: Sequence[Tool], major_mm: float, pitch_mm: float, depth_mm: float) -> Tool | None:
    fitting = [
        tool
        for tool in crib
        if tool.shape is ToolShape.TAP
        and may_be_used(tool, ToolUse.TAP)
        and abs(tool.diameter_mm - major_mm) <= MAJOR_SAME_MM
        and abs(tool.pitch_mm - pitch_mm) <= PITCH_SAME_MM
        and max(tool.flute_length_mm, tool.stickout_mm) >= depth_mm
    ]
    return min(fitting, key=size_then_number, default=None)


def boring_head(crib: Sequence[Tool], diameter_mm: float, depth_mm: float) -> Tool | None:
    """The one whose set diameter is nearest: a head is set anew for each hole, within what its slide gives."""
    fitting = [
        tool
        for tool in crib
        if tool.shape is ToolShape.BORE
        and may_be_used(tool, ToolUse.BORE)
        and sets_to(tool, diameter_mm)
        and max(tool.flute_length_mm, tool.stickout_mm) >= depth_mm
    ]
    return min(fitting, key=lambda tool: (abs(tool.diameter_mm - diameter_mm), tool.number), default=None)


def sets_to(head: Tool, diameter_mm: float) -> bool:
    """Whether a boring head is set to this diameter: between the crib's two, each of which may be missing."""
    lowest = head.set_from_mm or head.diameter_mm - HEAD_SETS_MM
    highest = head.set_to_mm or head.diameter_mm + HEAD_SETS_MM
    return lowest - SAME_MM <= diameter_mm <= highest + SAME_MM


def thread_mill(crib: Sequence[Tool], bore_mm: float, pitch_mm: float, depth_mm: float) -> Tool | None:
    """The largest that goes round in the bore, of the pitch or of a single tooth, which mills any pitch."""
    fitting = [
        tool
        for tool in crib
        if tool.shape is ToolShape.THREAD_MILL
        and (may_be_used(tool, ToolUse.TAP) or may_be_used(tool, ToolUse.HELICAL))
        and tool.diameter_mm <= THREAD_MILL_SHARE * bore_mm + SAME_MM
        and (tool.pitch_mm == 0 or abs(tool.pitch_mm - pitch_mm) <= PITCH_SAME_MM)
        and max(tool.flute_length_mm, tool.stickout_mm) >= depth_mm
    ]
    return min(fitting, key=lambda tool: (tool.pitch_mm == 0, -tool.diameter_mm, tool.number), default=None)


def groove_cutter(crib: Sequence[Tool], bore_mm: float, deep_mm: float, wide_mm: float, reach: float) -> Tool | None:
    """The largest T-slot cutter that enters the bore, is no thicker than the groove, and whose neck stays clear of the
    bore while its edge is at the groove's bottom."""
    fitting = [
        tool
        for tool in crib
        if tool.shape is ToolShape.SLOT
        and (may_be_used(tool, ToolUse.WALL) or may_be_used(tool, ToolUse.HELICAL))
        and tool.diameter_mm < bore_mm
        and tool.flute_length_mm <= wide_mm + SAME_MM
        and (tool.diameter_mm - tool.neck_diameter_mm) / 2 >= deep_mm
        and tool.stickout_mm >= reach
    ]
    return largest(fitting)


def undercut_cutter(
    crib: Sequence[Tool], beside_mm: float, high_mm: float, reach: float, room_mm: float = float("inf")
) -> Tool | None:
    """The largest T-slot cutter that reaches so far beside its neck, is no thicker, and gets as deep.

    room_mm: what its neck and its own reach have between the wide part's wall and the far side of the slot's neck: in a
    T-slot with its edge on one wall, half its diameter and half its neck stay within that.
    """
    fitting = [
        tool
        for tool in crib
        if tool.shape is ToolShape.SLOT
        and (may_be_used(tool, ToolUse.WALL) or may_be_used(tool, ToolUse.ROUGH))
        and 0 < tool.neck_diameter_mm < tool.diameter_mm
        and tool.flute_length_mm <= high_mm + SAME_MM
        and (tool.diameter_mm - tool.neck_diameter_mm) / 2 >= beside_mm - SAME_MM
        and (tool.diameter_mm + tool.neck_diameter_mm) / 2 <= room_mm + SAME_MM
        and tool.stickout_mm >= reach - SAME_MM
    ]
    return largest(fitting)


def counterbore(crib: Sequence[Tool], size_mm: float, depth_mm: float, rules: PlanRules) -> Tool | None:
    """One of the size; else the largest end mill that goes round in it."""
    exact = [
        tool
        for tool in crib
        if tool.shape is ToolShape.COUNTERBORE
        and abs(tool.diameter_mm - size_mm) <= rules.drill_size_mm
        and (may_be_used(tool, ToolUse.COUNTERBORE) or may_be_used(tool, ToolUse.FLOOR))
        and max(tool.flute_length_mm, tool.stickout_mm) >= depth_mm
    ]
    mills = end_mills(crib, ToolUse.HELICAL, depth_mm)
    return min(exact, key=size_then_number, default=None) or largest(mills, size_mm * rules.hole_share)


def countersink(crib: Sequence[Tool], size_mm: float, angle_deg: float) -> Tool | None:
    shapes = (ToolShape.COUNTERSINK, ToolShape.CHAMFER, ToolShape.SPOT)
    fitting = [
        tool
        for tool in crib
        if tool.shape in shapes
        and may_be_used(tool, ToolUse.COUNTERSINK if tool.shape is not ToolShape.SPOT else ToolUse.SPOT)
        and abs(tool.point_angle_deg - angle_deg) < SURE_ANGLE_DEG
        and (tool.diameter_mm >= size_mm or tool.shape is ToolShape.CHAMFER)
    ]
    return min(fitting, key=lambda tool: (shapes.index(tool.shape), tool.diameter_mm, tool.number), default=None)


def chamfer_mill(crib: Sequence[Tool], angle_deg: float, size_mm: float) -> Tool | None:
    """One whose flank is as slanted and as long. angle_deg: included."""
    fitting = [
        tool
        for tool in crib
        if tool.shape in (ToolShape.CHAMFER, ToolShape.COUNTERSINK)
        and may_be_used(tool, ToolUse.CHAMFER)
        and abs(tool.point_angle_deg - angle_deg) < SURE_ANGLE_DEG
        and (tool.diameter_mm - tool.tip_diameter_mm) / 2 >= size_mm - SAME_MM
    ]
    return min(fitting, key=size_then_number, default=None)


def edge_tool(crib: Sequence[Tool]) -> Tool | None:
    able = [
        tool
        for tool in crib
        if tool.shape is ToolShape.CHAMFER and (may_be_used(tool, ToolUse.DEBURR) or may_be_used(tool, ToolUse.CHAMFER))
    ]
    return min(able, key=size_then_number, default=None)


def ball(crib: Sequence[Tool], inside_radius_mm: float | None, depth_mm: float) -> Tool | None:
    """The largest ball that fits the narrowest hollow of a surface and gets as deep."""
    most = float("inf") if inside_radius_mm is None else 2 * inside_radius_mm
    able = [
        tool
        for tool in crib
        if tool.shape is ToolShape.BALL and may_be_used(tool, ToolUse.SURFACE) and reach_mm(tool) >= depth_mm - SAME_MM
    ]
    return largest(able, most)


def size_then_number(tool: Tool) -> tuple[float, int]:
    return (tool.diameter_mm, tool.number)
