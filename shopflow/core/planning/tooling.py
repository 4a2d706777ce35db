"""Tools from the crib for what a setup cuts; what the crib has no tool for is named with the size that is needed.

A tool's allowed uses bind: one whose list is not empty is taken for nothing else. Among tools that fit, the largest end
mill and the shortest drill are taken, and lower numbers first: large and short bends least.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import tan

from shopflow.core.planning.holes import HoleGroup, group_holes
from shopflow.core.planning.needs import hole_words
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid.reading import Hole
from shopflow.core.types import Tool, ToolShape, ToolUse

RADIANS = 0.017453292519943295
USUAL_POINT_DEG = 118.0
"""Point angle of a drill whose crib row does not say (common practice, no source)."""
END_MILLS = (ToolShape.FLAT, ToolShape.BULL)


@dataclass(frozen=True)
class PickedTool:
    """A tool of the crib and what a setup needs it for."""

    tool: Tool
    purposes: tuple[str, ...]

    @property
    def purpose(self) -> str:
        return ", ".join(self.purposes)


@dataclass(frozen=True)
class Wanted:
    """A tool that the crib does not have: what would do, and what for."""

    tool: str
    purpose: str

    def __str__(self) -> str:
        return f"{self.tool} for {self.purpose}"


@dataclass
class Tooling:
    """The tools of one setup in the order they are first needed, and what is missing."""

    wanted: list[Wanted] = field(default_factory=list)
    _purposes: dict[int, list[str]] = field(default_factory=dict)
    _tools: dict[int, Tool] = field(default_factory=dict)

    @property
    def picked(self) -> list[PickedTool]:
        return [PickedTool(self._tools[number], tuple(said)) for number, said in self._purposes.items()]

    def take(self, tool: Tool | None, purpose: str, *, otherwise: str) -> Tool | None:
        """Note a tool for a purpose; without one, note what is wanted."""
        if tool is None:
            self.wanted.append(Wanted(otherwise, purpose))
            return None
        said = self._purposes.setdefault(tool.number, [])
        self._tools[tool.number] = tool
        if purpose not in said:
            said.append(purpose)
        return tool


@dataclass(frozen=True)
class Cut:
    """What a setup cuts besides holes, mm. corner_mm: smallest inside radius between walls, None without one."""

    faces_mm: float
    depth_mm: float
    corner_mm: float | None
    has_sharp_edges: bool


def tooling(cut: Cut, holes: Sequence[Hole], crib: Sequence[Tool], rules: PlanRules) -> Tooling:
    """The tools of one setup: face, rough, corners, holes from their smallest mouth to their widest, edges last."""
    chosen = Tooling()
    _faces_and_walls(chosen, cut, crib, rules)
    for group in group_holes(tuple(holes)):
        _hole(chosen, group, crib, rules)
    if cut.has_sharp_edges:
        _edges(chosen, crib)
    return chosen


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


def _faces_and_walls(chosen: Tooling, cut: Cut, crib: Sequence[Tool], rules: PlanRules) -> None:
    if cut.faces_mm > 0:
        wanted = f"a face mill or an end mill of {rules.say(10)} and more"
        chosen.take(_facing_tool(crib, cut.faces_mm), "face the top", otherwise=wanted)
    if cut.depth_mm <= 0:
        return
    rough = _largest(_end_mills(crib, ToolUse.ROUGH, cut.depth_mm))
    chosen.take(rough, "walls and floors", otherwise=f"an end mill that reaches {rules.say(cut.depth_mm)} deep")
    if cut.corner_mm is None:
        return
    largest = 2 * cut.corner_mm * rules.corner_share
    if rough is not None and rough.diameter_mm <= largest:
        return
    fitting = [tool for tool in _end_mills(crib, ToolUse.WALL, cut.depth_mm) if tool.diameter_mm <= largest]
    corner = f"inside corners of radius {rules.say(cut.corner_mm)}"
    needed = f"an end mill of at most ⌀{rules.say(largest)} that reaches {rules.say(cut.depth_mm)} deep"
    chosen.take(_largest(fitting), corner, otherwise=needed)


def _facing_tool(crib: Sequence[Tool], width_mm: float) -> Tool | None:
    """The face mill that covers the width, else the largest; without a face mill the largest end mill that may face."""
    able = [tool for tool in crib if tool.shape is ToolShape.FACE and may_be_used(tool, ToolUse.FACE)]
    if able:
        covering = [tool for tool in able if tool.diameter_mm >= width_mm]
        return min(covering, key=_size_then_number) if covering else _largest(able)
    ends = [t for t in crib if t.shape in END_MILLS and t.diameter_mm >= 10 and may_be_used(t, ToolUse.FACE)]
    return _largest(ends)


def _end_mills(crib: Iterable[Tool], use: ToolUse, depth_mm: float) -> list[Tool]:
    return [
        tool
        for tool in crib
        if tool.shape in END_MILLS and may_be_used(tool, use) and reach_mm(tool) >= depth_mm - 1e-6
    ]


def _hole(chosen: Tooling, group: HoleGroup, crib: Sequence[Tool], rules: PlanRules) -> None:
    hole = group.first
    purpose = f"{group.count} × {hole_words(hole, rules)}"
    drill = _drill(hole, crib, rules)
    if drill is None:
        mill = _boring_mill(hole, crib, rules)
        chosen.take(mill, purpose, otherwise=_drill_wanted(hole, rules))
    else:
        if _needs_spot(drill):
            chosen.take(_spot(crib), f"spot {purpose}", otherwise="a spot drill")
        chosen.take(drill, purpose, otherwise="")
    if hole.counterbore_mm is not None:
        _counterbore(chosen, group, hole.counterbore_mm, crib, rules)
    if hole.countersink_mm is not None:
        _countersink(chosen, group, hole.countersink_mm, hole.countersink_angle_deg, crib, rules)


def _drill(hole: Hole, crib: Sequence[Tool], rules: PlanRules) -> Tool | None:
    """The shortest drill of the hole's size that gets down; none for a flat bottom, which a drill does not leave."""
    if not hole.through and hole.bottom == "flat":
        return None
    fitting = [
        tool
        for tool in crib
        if tool.shape is ToolShape.DRILL
        and may_be_used(tool, ToolUse.DRILL)
        and abs(tool.diameter_mm - hole.diameter_mm) <= rules.drill_size_mm
        and tool.flute_length_mm >= hole.depth_mm + point_mm(tool)
    ]
    return min(fitting, key=lambda tool: (tool.flute_length_mm, tool.number), default=None)


def _boring_mill(hole: Hole, crib: Sequence[Tool], rules: PlanRules) -> Tool | None:
    largest = hole.diameter_mm * rules.hole_share
    return _largest(tool for tool in _end_mills(crib, ToolUse.HELICAL, hole.depth_mm) if tool.diameter_mm <= largest)


def _drill_wanted(hole: Hole, rules: PlanRules) -> str:
    kind = "an end mill under" if hole.bottom == "flat" else "a drill of"
    return f"{kind} ⌀{rules.say(hole.diameter_mm)} that reaches {rules.say(hole.depth_mm)} deep"


def _needs_spot(drill: Tool) -> bool:
    """A carbide drill starts by itself; one of high-speed steel wanders (common practice, no source)."""
    return drill.material.value.endswith("high-speed steel")


def _spot(crib: Sequence[Tool]) -> Tool | None:
    spots = [tool for tool in crib if tool.shape is ToolShape.SPOT and may_be_used(tool, ToolUse.SPOT)]
    return min(spots, key=_size_then_number, default=None)


def _counterbore(chosen: Tooling, group: HoleGroup, size_mm: float, crib: Sequence[Tool], rules: PlanRules) -> None:
    depth = group.first.counterbore_depth_mm or 0.0
    purpose = f"{group.count} × counterbore ⌀{rules.say(size_mm)}, {rules.say(depth)} deep"
    exact = [
        tool
        for tool in crib
        if tool.shape is ToolShape.COUNTERBORE and abs(tool.diameter_mm - size_mm) <= rules.drill_size_mm
    ]
    mills = [t for t in _end_mills(crib, ToolUse.HELICAL, depth) if t.diameter_mm <= size_mm * rules.hole_share]
    tool = min(exact, key=_size_then_number, default=None) or _largest(mills)
    chosen.take(
        tool, purpose, otherwise=f"a counterbore ⌀{rules.say(size_mm)} or an end mill under it, {rules.say(depth)} deep"
    )


def _countersink(
    chosen: Tooling, group: HoleGroup, size_mm: float, angle_deg: float | None, crib: Sequence[Tool], rules: PlanRules
) -> None:
    angle = angle_deg or 90.0
    fitting = [
        tool
        for tool in crib
        if tool.shape in (ToolShape.COUNTERSINK, ToolShape.CHAMFER, ToolShape.SPOT)
        and may_be_used(tool, ToolUse.COUNTERSINK)
        and abs(tool.point_angle_deg - angle) < 1
        and (tool.diameter_mm >= size_mm or tool.shape is ToolShape.CHAMFER)
    ]
    purpose = f"{group.count} × countersink ⌀{rules.say(size_mm)}, {angle:.4g}°"
    tool = min(fitting, key=lambda tool: (tool.shape is not ToolShape.COUNTERSINK, tool.diameter_mm), default=None)
    chosen.take(tool, purpose, otherwise=f"a countersink of {angle:.4g}°, at least ⌀{rules.say(size_mm)}")


def _edges(chosen: Tooling, crib: Sequence[Tool]) -> None:
    """Edges are broken on the machine where the crib can; where it cannot, they are left for the deburr op."""
    able = [tool for tool in crib if tool.shape is ToolShape.CHAMFER and may_be_used(tool, ToolUse.CHAMFER)]
    if able:
        chosen.take(min(able, key=_size_then_number), "break edges", otherwise="")


def _largest(tools: Iterable[Tool]) -> Tool | None:
    return min(tools, key=lambda tool: (-tool.diameter_mm, tool.flute_length_mm, tool.number), default=None)


def _size_then_number(tool: Tool) -> tuple[float, int]:
    return (tool.diameter_mm, tool.number)
