"""A tool as bodies of revolution about its axis: what cuts, what rubs, what holds.

Each body has a lower end (flat, cone, or rounded corner) and goes straight up from its edge. Heights count from the
tip. That is all that sweeping needs, since what stands above a cutter in a hole it made is no wider than the hole.

What columns cannot show: the thread of a tap (it takes its minor diameter away) and of a thread mill (it takes its
outer diameter away over the length of its teeth), the small lead-in of a reamer, the flank of a holder that gets
thinner upwards (it is taken as straight), and the upper corner of an undercut cutter (it is taken as sharp).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from shopflow.core.errors import NotPossible
from shopflow.core.types import Tool, ToolShape

Floats = NDArray[np.float64]


class LowerEnd(IntEnum):
    """Shape of a body's lower end outside its flat middle."""

    CONE = 0
    ROUND = 1


class Part(IntEnum):
    """What a body does to material that it meets."""

    CUTTER = 0
    SHANK = 1
    """Shank, neck or the stem of a probe: must not touch."""
    HOLDER = 2


@dataclass(frozen=True)
class Body:
    """bottom: height of its lowest point above the tip; flat: radius of its flat middle; radius: outer; mm.

    curve: rise per mm of radius of a cone, or the corner radius mm. top: height above the tip where it ends, inf if
    nothing of it does.
    """

    part: Part
    bottom: float
    flat: float
    radius: float
    end: LowerEnd = LowerEnd.CONE
    curve: float = 0.0
    top: float = math.inf

    def row(self) -> tuple[float, ...]:
        """The numbers that kernels read: bottom, flat, radius, curve, top, end, part."""
        return (self.bottom, self.flat, self.radius, self.curve, self.top, float(self.end), float(self.part))


_CONES = frozenset({ToolShape.DRILL, ToolShape.SPOT, ToolShape.CHAMFER, ToolShape.COUNTERSINK})
_UNDERCUTS = frozenset({ToolShape.SLOT, ToolShape.THREAD_MILL})

MINOR_OF_PITCH = 1.082532
"""Minor diameter of a thread = diameter - this · pitch (ISO 68-1)."""


def bodies_of(tool: Tool) -> tuple[Body, ...]:
    """The bodies of a tool, the cutter first. Raises NotPossible where its sizes contradict each other."""
    if not (math.isfinite(tool.diameter_mm) and tool.diameter_mm > 0.0):
        raise NotPossible(f"Tool {tool.number} has no diameter; enter it in the crib.")
    cutter = _cutter(tool)
    return (cutter, *_above_flutes(tool, cutter), *_holder(tool))


def rows_of(bodies: tuple[Body, ...]) -> Floats:
    """(bodies, 7) float64, as `Body.row` has them."""
    return np.array([body.row() for body in bodies], dtype=np.float64).reshape(-1, 7)


def what_is_not_shown(tool: Tool) -> str:
    """What the columns do not show of this tool, a sentence; empty where they show all of it."""
    match tool.shape:
        case ToolShape.TAP:
            return "The thread itself is not shown: the tap takes its minor diameter away."
        case ToolShape.THREAD_MILL:
            return "The thread itself is not shown: the thread mill takes its outer diameter away."
        case ToolShape.REAMER:
            return "The lead-in of the reamer is not shown: its end is taken as flat."
        case ToolShape.BORE:
            return "The boring head is shown as a cylinder of the diameter that it is set to."
        case ToolShape.SLOT:
            return "The upper corner of the cutter is taken as sharp."
    if tool.neck_diameter_mm and tool.shank_diameter_mm > tool.neck_diameter_mm:
        return "The length of the neck is not known: it is taken to reach up to the holder."
    return ""


def _cutter(tool: Tool) -> Body:
    radius, corner = tool.diameter_mm / 2.0, tool.corner_radius_mm
    top = tool.flute_length_mm if _is_reduced(tool) else math.inf
    if tool.shape is ToolShape.PROBE:
        return Body(Part.SHANK, 0.0, 0.0, radius, LowerEnd.ROUND, radius)
    if tool.shape is ToolShape.TAP:
        minor = radius - MINOR_OF_PITCH / 2.0 * tool.pitch_mm
        return Body(Part.CUTTER, 0.0, minor, minor)
    if tool.shape is ToolShape.BALL:
        return Body(Part.CUTTER, 0.0, 0.0, radius, LowerEnd.ROUND, radius, top)
    if tool.shape is ToolShape.FACE and tool.point_angle_deg < 180.0:
        return _lead(tool, top)
    if tool.shape in _CONES and tool.point_angle_deg < 180.0:
        return _cone(tool, top)
    if corner > radius + 1e-9:
        raise NotPossible(f"Tool {tool.number} has a corner radius of {corner:g} mm, more than half its diameter.")
    if corner > 0.0 and tool.shape not in _CONES:
        return Body(Part.CUTTER, 0.0, max(radius - corner, 0.0), radius, LowerEnd.ROUND, corner, top)
    return Body(Part.CUTTER, 0.0, radius, radius, top=top)


def _cone(tool: Tool, top: float) -> Body:
    """Point or chamfer: a cone of the included angle from the flat at the tip to the diameter."""
    radius, flat = tool.diameter_mm / 2.0, tool.tip_diameter_mm / 2.0
    if not tool.point_angle_deg > 0.0 or flat > radius:
        raise NotPossible(f"Tool {tool.number} has no possible point: check its angle and its tip diameter.")
    return Body(Part.CUTTER, 0.0, flat, radius, LowerEnd.CONE, _slope(tool.point_angle_deg), top)


def _lead(tool: Tool, top: float) -> Body:
    """A face mill with a lead angle: its diameter is the flat at the tip, and it widens over its length of cut."""
    flat, slope = tool.diameter_mm / 2.0, _slope(tool.point_angle_deg)
    return Body(Part.CUTTER, 0.0, flat, flat + tool.flute_length_mm / slope, LowerEnd.CONE, slope, top)


def _slope(included_deg: float) -> float:
    return 1.0 / math.tan(math.radians(included_deg) / 2.0)


def _is_reduced(tool: Tool) -> bool:
    """Whether the tool is thinner above its flutes than at them, so that material can stand over the cutter."""
    above = _widths_above(tool)
    return tool.flute_length_mm > 0.0 and (tool.shape in _UNDERCUTS or (bool(above) and min(above) < tool.diameter_mm))


def _widths_above(tool: Tool) -> list[float]:
    return [width for width in (tool.neck_diameter_mm, tool.shank_diameter_mm) if width > 0.0]


def _above_flutes(tool: Tool, cutter: Body) -> Iterator[Body]:
    """Neck or shank, where it is not simply as wide as the cutter."""
    above = _widths_above(tool)
    if not above or tool.flute_length_mm <= 0.0:
        return
    radius = (tool.neck_diameter_mm or tool.shank_diameter_mm) / 2.0
    if math.isfinite(cutter.top) or radius > cutter.radius:
        yield Body(Part.SHANK, tool.flute_length_mm, radius, radius)


def _holder(tool: Tool) -> Iterator[Body]:
    """The holder's stack: each stretch that widens is a cone; what narrows upwards stands as straight."""
    if tool.holder is None or tool.stickout_mm <= 0.0:
        return
    profile = [(tool.stickout_mm + height, width / 2.0) for height, width in tool.holder.profile]
    widest = 0.0
    if len(profile) == 1:
        yield Body(Part.HOLDER, profile[0][0], profile[0][1], profile[0][1])
    for (low, inner), (high, outer) in zip(profile, profile[1:], strict=False):
        if max(inner, outer) <= widest:
            continue
        widest = max(inner, outer)
        if outer > inner and high > low:
            yield Body(Part.HOLDER, low, inner, outer, LowerEnd.CONE, (high - low) / (outer - inner))
        else:
            yield Body(Part.HOLDER, low, widest, widest)
