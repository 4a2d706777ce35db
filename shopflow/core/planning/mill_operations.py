"""Faces, walls, floors, pockets, rounded faces and edges of one setup, each with a tool of the crib and its passes.

Depths and widths of passes are common practice with no source; the shop changes any of them in the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import ceil

from shopflow.core.planning import picking
from shopflow.core.planning.operations import Operation, OperationKind, Wanted
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.side_work import SideWork, pocket_depth_mm, pocket_mm3
from shopflow.core.planning.slots.operations import undercutting
from shopflow.core.planning.soft import is_soft
from shopflow.core.solid.reading import Pocket
from shopflow.core.types import Material, Tool, ToolShape, ToolUse

FACE_DEPTH_MM = {True: 3.0, False: 1.5}
"""Of one facing pass, in soft materials and in others."""
FACE_WIDTH = 0.7
"""Of a facing pass over the cutter's diameter."""
ROUGH_DEPTH = {True: 0.75, False: 0.5}
ROUGH_WIDTH = 0.4
"""Of a roughing pass over the diameter."""
FLOOR_WIDTH = 0.6
POCKET_SHARE = 0.8
"""A mill that roughs a pocket is at most this share of its width, or it would only slot."""
LEAST_MM3 = 50.0
"""What the estimate is off by is not an operation, neither below this nor below a hundredth of the work's own box."""
LEAST_SHARE = 0.01
LEAST_FLOOR_MM2 = 1.0
LARGEST_USUAL_MM = 32.0
"""A tool that may be as large as this and larger is asked for without a size (common practice, no source)."""
EDGE_MM = 0.3
"""Leg of a broken edge."""


def milling(work: SideWork, crib: Sequence[Tool], rules: PlanRules, material: Material | None) -> list[Operation]:
    """The operations of a setup besides its holes, in the order of the work."""
    soft = is_soft(material)
    made = [
        *_facing(work, crib, rules, soft=soft),
        *_outside(work, crib, rules, soft=soft),
        *_inside(work, crib, rules, soft=soft),
        *_pockets(work, crib, rules, soft=soft),
        *undercutting(work.side_slots, crib, rules, soft=soft),
        *_surface(work, crib, rules),
        *_broken(work, crib, rules),
    ]
    return merged(made)


def merged(operations: Sequence[Operation]) -> list[Operation]:
    """Equal pockets are one operation."""
    first: dict[str, Operation] = {}
    for one in operations:
        known = first.get(one.key)
        first[one.key] = one if known is None else _added(known, one)
    return list(first.values())


def _added(a: Operation, b: Operation) -> Operation:
    return replace(
        a,
        count=a.count + b.count,
        length_mm=a.length_mm + b.length_mm,
        volume_mm3=a.volume_mm3 + b.volume_mm3,
        depth_mm=max(a.depth_mm, b.depth_mm),
        passes=max(a.passes, b.passes),
    )


def _facing(work: SideWork, crib: Sequence[Tool], rules: PlanRules, *, soft: bool) -> Iterator[Operation]:
    if work.facing_mm2 <= 0 or work.facing_depth_mm <= 0:
        return
    tool = picking.facing_tool(crib, work.facing_width_mm)
    need = f"a face mill or an end mill of {rules.say(picking.LEAST_FACING_MM)} and more"
    what = f"the top, {rules.say(work.facing_depth_mm)} off"
    wide = min(FACE_WIDTH * tool.diameter_mm, work.facing_width_mm) if tool else 0.0
    deepest = FACE_DEPTH_MM[soft]
    if tool and tool.shape is not ToolShape.FACE:
        deepest = min(deepest, ROUGH_DEPTH[soft] * tool.diameter_mm)
    passes = ceil(work.facing_depth_mm / deepest - 1e-9)
    rows = ceil(work.facing_width_mm / wide - 1e-9) if wide else 1
    long_mm = work.facing_mm2 / work.facing_width_mm
    yield Operation(
        OperationKind.FACE, "face", what, tool, _wanted(tool, need, what), depth_mm=work.facing_depth_mm,
        width_mm=work.facing_width_mm,
        length_mm=rows * (long_mm + (tool.diameter_mm if tool else 0.0)), axial_mm=work.facing_depth_mm / passes,
        radial_mm=wide, passes=passes, count=rows,
    )  # fmt: skip


def _outside(work: SideWork, crib: Sequence[Tool], rules: PlanRules, *, soft: bool) -> Iterator[Operation]:
    """Round the part to its whole height, or to its share of it."""
    depth = work.depth_mm if work.outline_depth_mm is None else work.outline_depth_mm
    if depth <= 0 or not work.outline_mm:
        return
    need = f"an end mill that reaches {rules.say(depth)} deep"
    rough = picking.largest(picking.end_mills(crib, ToolUse.ROUGH, depth))
    finish = picking.largest(picking.end_mills(crib, ToolUse.WALL, depth))
    deepest = _pass_mm(rough, ROUGH_DEPTH[soft])
    passes = ceil(depth / deepest - 1e-9) if deepest else 1
    what = f"outside, {rules.say(depth)} deep"
    standing = max(work.allowance_mm - rules.finish_stock_mm, 0.1)
    yield Operation(
        OperationKind.ROUGH, "rough outside", what, rough, _wanted(rough, need, what),
        depth_mm=depth, width_mm=standing,
        length_mm=work.outline_mm + 4 * (rough.diameter_mm if rough else 0.0), axial_mm=depth / passes,
        radial_mm=standing, passes=passes,
    )  # fmt: skip
    own_walls = max(work.wall_mm2 - sum(_wall_mm2(pocket) for pocket in work.pockets), 0.0)
    yield _walls("walls", what, max(work.outline_mm, own_walls / depth), depth, finish, need, rules)


def _inside(work: SideWork, crib: Sequence[Tool], rules: PlanRules, *, soft: bool) -> Iterator[Operation]:
    """Steps and hollows that are no pockets, as deep as their floors lie."""
    depth = work.inside_mm or work.depth_mm
    if depth <= 0:
        return
    need = f"an end mill that reaches {rules.say(depth)} deep"
    what = f"steps and hollows, down to {rules.say(depth)}"
    if work.inside_mm3 > max(LEAST_MM3, LEAST_SHARE * work.facing_mm2 * depth):
        rough = picking.largest(picking.end_mills(crib, ToolUse.ROUGH, depth))
        yield Operation(
            OperationKind.ROUGH, "rough inside", what, rough, _wanted(rough, need, what), depth_mm=depth,
            volume_mm3=work.inside_mm3, axial_mm=min(_pass_mm(rough, ROUGH_DEPTH[soft]) or depth, depth),
            radial_mm=ROUGH_WIDTH * (rough.diameter_mm if rough else 0.0),
        )  # fmt: skip
    if work.floor_mm2 > LEAST_FLOOR_MM2:
        tool = picking.largest(picking.end_mills(crib, ToolUse.FLOOR, depth))
        yield _floors("floors", what, work.floor_mm2, depth, tool, need, rules)


def _pockets(work: SideWork, crib: Sequence[Tool], rules: PlanRules, *, soft: bool) -> Iterator[Operation]:
    for pocket in work.pockets:
        yield from _pocket(work, pocket, crib, rules, soft=soft)


def _pocket(
    work: SideWork, pocket: Pocket, crib: Sequence[Tool], rules: PlanRules, *, soft: bool
) -> Iterator[Operation]:
    """Roughed by the largest that turns in it, finished by one that turns in its corners."""
    depth = pocket_depth_mm(pocket, work.up, work.depth_mm or pocket.depth_mm)
    width = pocket.width_mm or pocket.length_mm
    corner = 2 * pocket.radius_mm * rules.corner_share if pocket.radius_mm is not None else width
    finish_most = min(corner, width)
    mills = picking.end_mills(crib, ToolUse.WALL, depth)
    finish = picking.largest(mills, finish_most)
    roughing = picking.end_mills(crib, ToolUse.ROUGH, depth)
    rough = picking.largest(roughing, POCKET_SHARE * width) or picking.largest(roughing, finish_most)
    most = f" of at most ⌀{rules.say(finish_most)}" if finish_most < LARGEST_USUAL_MM else ""
    need = f"an end mill{most} that reaches {rules.say(depth)} deep"
    corners = f", inside corners of radius {rules.say(pocket.radius_mm)}" if pocket.radius_mm is not None else ""
    said = f"{pocket.kind} {rules.say(depth)} deep"
    size = f"{pocket.kind} {depth:.3f} {width:.3f} {pocket.radius_mm or 0:.3f}"
    deepest = _pass_mm(rough, ROUGH_DEPTH[soft]) or depth
    yield Operation(
        OperationKind.ROUGH, f"rough {size}", said, rough, _wanted(rough, need, said + corners),
        depth_mm=depth, width_mm=width, volume_mm3=pocket_mm3(pocket), axial_mm=min(deepest, depth),
        radial_mm=ROUGH_WIDTH * (rough.diameter_mm if rough else 0.0),
    )  # fmt: skip
    if pocket.kind != "through pocket":
        yield _floors(f"floor {size}", said, _floor_mm2(pocket), depth, finish, need, rules)
    yield _walls(f"walls {size}", said + corners, _round_mm(pocket), depth, finish, need, rules)


def _floors(
    key: str, what: str, area_mm2: float, depth: float, tool: Tool | None, need: str, rules: PlanRules
) -> Operation:
    wide = FLOOR_WIDTH * tool.diameter_mm if tool else 0.0
    return Operation(
        OperationKind.FLOORS, key, what, tool, _wanted(tool, need, what), depth_mm=depth,
        length_mm=area_mm2 / wide if wide else 0.0, axial_mm=rules.finish_stock_mm, radial_mm=wide,
    )  # fmt: skip


def _walls(
    key: str, what: str, length_mm: float, depth: float, tool: Tool | None, need: str, rules: PlanRules
) -> Operation:
    flutes = tool.flute_length_mm or depth if tool else depth
    passes = ceil(depth / flutes - 1e-9)
    return Operation(
        OperationKind.WALLS, key, what, tool, _wanted(tool, need, what), depth_mm=depth,
        length_mm=length_mm, axial_mm=depth / passes, radial_mm=rules.finish_stock_mm, passes=passes,
    )  # fmt: skip


def _surface(work: SideWork, crib: Sequence[Tool], rules: PlanRules) -> Iterator[Operation]:
    """A ball in rows as wide as the scallop between them allows: s = 2 √(R² − (R − h)²)."""
    area = work.surface_mm2 + work.slope_mm2
    if area <= LEAST_FLOOR_MM2:
        return
    tool = picking.ball(crib, work.hollow_mm, 0.0)
    size = f" of at most ⌀{rules.say(2 * work.hollow_mm)}" if work.hollow_mm is not None else ""
    what = f"{_surfaces_words(work)}, scallops of {rules.say(rules.scallop_mm)}"
    apart = stepover_mm(tool.diameter_mm / 2, rules.scallop_mm) if tool else 0.0
    yield Operation(
        OperationKind.SURFACE, "surface", what, tool, _wanted(tool, f"a ball end mill{size}", what),
        depth_mm=work.depth_mm, length_mm=area / apart if apart else 0.0,
        axial_mm=rules.finish_stock_mm, radial_mm=apart,
    )  # fmt: skip


def _surfaces_words(work: SideWork) -> str:
    if not work.slope_mm2:
        return "rounded faces"
    return "rounded and slanted faces" if work.surface_mm2 else "slanted faces"


def stepover_mm(ball_radius_mm: float, scallop_mm: float) -> float:
    """Between two rows of a ball that leave a scallop of this height; at most the ball's own width."""
    high = min(scallop_mm, ball_radius_mm)
    return float(2 * (ball_radius_mm**2 - (ball_radius_mm - high) ** 2) ** 0.5)


def _broken(work: SideWork, crib: Sequence[Tool], rules: PlanRules) -> Iterator[Operation]:
    """Chamfers of the model, and edges broken on the machine where the crib can; others are left to the bench."""
    for size, angle, length in work.chamfers:
        tool = picking.chamfer_mill(crib, angle, size)
        what = f"{rules.say(size)}, with a cutter of {angle:.4g}°"
        need = f"a chamfer mill of {angle:.4g}° with a flank over {rules.say(size)}"
        yield Operation(
            OperationKind.CHAMFER, f"chamfer {size:.3f} {angle:.0f}", what, tool, _wanted(tool, need, what),
            family="edges", depth_mm=size, length_mm=length, axial_mm=size, radial_mm=size,
        )  # fmt: skip
    edge = picking.edge_tool(crib)
    if work.edges_mm > 0 and edge is not None:
        count = max(work.edge_count, 1)
        yield Operation(
            OperationKind.EDGES, "edges", f"{count} sharp", edge, family="edges", count=count,
            depth_mm=EDGE_MM, length_mm=work.edges_mm, axial_mm=EDGE_MM, radial_mm=EDGE_MM,
        )  # fmt: skip


def _pass_mm(tool: Tool | None, share: float) -> float:
    """Depth of a roughing pass: no deeper than its flutes."""
    if tool is None:
        return 0.0
    return min(share * tool.diameter_mm, tool.flute_length_mm or share * tool.diameter_mm)


def _floor_mm2(pocket: Pocket) -> float:
    if pocket.floor_mm2 is not None:
        return pocket.floor_mm2
    return 0.0 if pocket.kind == "through pocket" else (pocket.width_mm or pocket.length_mm) * pocket.length_mm


def _round_mm(pocket: Pocket) -> float:
    """Once along its walls and islands."""
    if pocket.wall_mm2 is not None and pocket.depth_mm > 0:
        return pocket.wall_mm2 / pocket.depth_mm
    return 2 * ((pocket.width_mm or pocket.length_mm) + pocket.length_mm)


def _wall_mm2(pocket: Pocket) -> float:
    return _round_mm(pocket) * pocket.depth_mm


def _wanted(tool: Tool | None, need: str, what: str) -> Wanted | None:
    return None if tool else Wanted(need, what)
