"""What a setup asks of the machine and of the tools' holders, where that comes near to what they can do.

A reading's faces are known by their boxes only, and a crib's holders by their widest place: what is named here may be
clear, what is not named is no promise. Common practice with no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shopflow.core.planning.clamping.gripping import Stand
from shopflow.core.planning.clamping.holding import HeldIn, Holding
from shopflow.core.planning.directions import flat_axes, height_axis, name_of, opposite
from shopflow.core.planning.hole_operations import family_of
from shopflow.core.planning.holes import group_holes
from shopflow.core.planning.operations import HOLE_KINDS, Operation
from shopflow.core.planning.rules import PlanRules
from shopflow.core.solid.reading import FaceFacts, Hole
from shopflow.core.types import Machine, Material, Tool

HOLDER_MM = 40.0
"""Diameter of a holder that the crib does not draw."""
NEAR_MM = 0.5
CLEAR_MM = 25.0
"""Over the part, from where tools go from place to place."""
BY_HAND_KG = 20.0
"""Heavier blanks are not lifted onto a machine by hand."""
MM3_PER_M3 = 1e9
PARALLEL_MM = 6.0
"""How thick a parallel is that stands against a jaw."""


def holder_notes(stand: Stand, holes: Sequence[Hole], operations: Sequence[Operation], rules: PlanRules) -> list[str]:
    """Holes at whose bottom a tool's holder has come down beside something higher; each tool once."""
    said: dict[int, str] = {}
    for group in group_holes(tuple(holes)):
        family = family_of(group)
        for one in operations:
            tool = one.tool
            if tool is None or one.kind not in HOLE_KINDS or one.family != family or tool.number in said:
                continue
            if any(_is_beside(stand, hole, one.depth_mm, tool) for hole in group.holes):
                said[tool.number] = (
                    f"takes T{tool.number} so deep beside something higher ({one.what}) that its holder may touch: it "
                    f"sticks out {rules.say(tool.stickout_mm)}; look, or give it a longer one."
                )
    return list(said.values())


def parallels_note(stand: Stand, holes: Sequence[Hole], holding: Holding, rules: PlanRules) -> str:
    """Whether through holes of a setup in the vise come out over a parallel; in the first, stock lies between."""
    if holding.held_in is not HeldIn.VISE or not stand.before or not holding.along_x:
        return ""
    (jaws,) = set(flat_axes(stand.up)) - {height_axis(holding.along_x)}
    low, high = stand.reading.box_min_mm[jaws], stand.reading.box_max_mm[jaws]
    over = [
        hole
        for hole in holes
        if hole.through
        and min(hole.position_mm[jaws] - low, high - hole.position_mm[jaws]) - hole.diameter_mm / 2 < PARALLEL_MM
    ]
    if not over:
        return ""
    said = f"{len(over)} through holes" if len(over) > 1 else "a through hole"
    return (
        f"drills {said} within {rules.say(PARALLEL_MM)} of a jaw, where parallels stand: set short ones clear of them."
    )


def travel_note(operations: Sequence[Operation], machine: Machine | None, rules: PlanRules) -> str:
    """Whether tools of so different length get over the part and down to their cut with the machine's travel in Z."""
    tools = [one.tool for one in operations if one.tool is not None and one.tool.stickout_mm > 0]
    if machine is None or not tools:
        return ""
    lengths = [tool.stickout_mm for tool in tools]
    needed = max(lengths) - min(lengths) + max(one.depth_mm for one in operations) + CLEAR_MM
    if needed <= machine.travel_mm[2]:
        return ""
    return (
        f"needs {rules.say(needed)} of travel in Z between its longest tool over the part and its shortest in the cut; "
        f"{machine.name} has {rules.say(machine.travel_mm[2])}."
    )


def weight_note(volume_mm3: float, material: Material | None) -> str:
    """Of a blank that nobody should lift by hand; "" where its material or weight is not known."""
    mass = volume_mm3 / MM3_PER_M3 * material.density_kg_m3 if material else 0.0
    if mass <= BY_HAND_KG:
        return ""
    return (
        f"The blank weighs {mass:.0f} kg: lift it with a hoist, and see the manual for the load that the table takes."
    )


def _is_beside(stand: Stand, hole: Hole, depth_mm: float, tool: Tool) -> bool:
    """Whether something within the holder's width is higher than its nose, with the tip at the hole's bottom."""
    if tool.stickout_mm <= 0 or name_of(hole.axis) not in (stand.up, opposite(stand.up)):
        return False
    nose = stand.height_of(hole.position_mm) - depth_mm + tool.stickout_mm
    if name_of(hole.axis) != stand.up:
        nose += hole.depth_mm
    wide = max((wide for _, wide in tool.holder.profile), default=HOLDER_MM) if tool.holder else HOLDER_MM
    return any(
        stand.heights(face)[1] > nose + NEAR_MM and _aside_mm(stand, face, hole) < wide / 2
        for face in stand.reading.faces
        if face.low_mm is not None and face.index not in hole.faces
    )


def _aside_mm(stand: Stand, face: FaceFacts, hole: Hole) -> float:
    """How far a face's box lies from the hole's axis, seen from above."""
    gaps = list(_gaps(stand, face, hole))
    return float(sum(gap * gap for gap in gaps) ** 0.5)


def _gaps(stand: Stand, face: FaceFacts, hole: Hole) -> Iterator[float]:
    assert face.low_mm is not None and face.high_mm is not None
    for axis in flat_axes(stand.up):
        at = hole.position_mm[axis]
        yield max(face.low_mm[axis] - at, at - face.high_mm[axis], 0.0)
