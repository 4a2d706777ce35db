"""Depth and width of a pass as a person typed them: what follows from them, and what a tool cannot do.

Shares are common practice with no source; what is refused follows from the tool's own sizes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import ceil

from shopflow.core.cutting import power
from shopflow.core.errors import NotPossible
from shopflow.core.planning.operations import HOLE_KINDS, Operation, OperationKind, Speeds
from shopflow.core.types import Tool, ToolShape

SAME_MM = 1e-6
FULL_WIDTH = 0.9
"""Share of the diameter from which a pass is a slot, with the cutter in the material all round its front."""
LAYERED = frozenset({OperationKind.FACE, OperationKind.WALLS, OperationKind.CHAMFER, OperationKind.EDGES})
"""Cut in layers one over another along the same path."""
SLOTTING = frozenset({OperationKind.ROUGH, OperationKind.FLOORS})
HEAD_SAME_MM = 0.05
"""A boring head that stands so near is set by trial cuts (common practice, no source)."""
Say = Callable[[float], str]


def has_passes(one: Operation) -> bool:
    """Whether depth and width of its pass are anybody's choice; a drill's are its own size."""
    return one.kind not in HOLE_KINDS or one.is_milled_round


def why_not(one: Operation, axial_mm: float | None, radial_mm: float | None, say: Say) -> str:
    """Why the tool cannot cut so deep or so wide, as a sentence; "" where it can. None: nothing was typed."""
    if axial_mm is None and radial_mm is None:
        return ""
    if not has_passes(one):
        return "A tool that goes down along its axis has no pass to type: type its pecks instead."
    for typed, name in ((axial_mm, "depth"), (radial_mm, "width")):
        if typed is not None and typed <= 0:
            return f"The {name} of a pass is more than 0. Leave it empty to have it proposed."
    if one.tool is None:
        return ""
    most, widest = deepest_mm(one.tool), one.tool.diameter_mm
    if axial_mm is not None and 0 < most < axial_mm - SAME_MM:
        return f"T{one.tool.number} cuts no deeper than its length of cut, {say(most)}: {say(axial_mm)} is too deep."
    if radial_mm is not None and radial_mm > widest + SAME_MM:
        return f"T{one.tool.number} is {say(widest)} wide: a pass of {say(radial_mm)} is wider than that."
    return ""


def checked(one: Operation, axial_mm: float | None, radial_mm: float | None, say: Say) -> None:
    """Raises NotPossible where the tool cannot cut so deep or so wide."""
    if refusal := why_not(one, axial_mm, radial_mm, say):
        raise NotPossible(refusal)


def deepest_mm(tool: Tool) -> float:
    """The deepest pass: to the end of its flutes, of a pointed cutter to the end of its flank; 0 where unknown."""
    return tool.flute_length_mm


def repassed(one: Operation, axial_mm: float | None = None, radial_mm: float | None = None) -> Operation:
    """With another depth and width of a pass, and the path and number of passes that follow; None leaves it.

    What the tool cannot do counts as far as it can, since a tool may have changed after it was typed.
    """
    if not has_passes(one):
        return one
    if one.tool is not None:
        most = deepest_mm(one.tool) or float("inf")
        axial_mm = _held(axial_mm, one.axial_mm, most)
        radial_mm = _held(radial_mm, one.radial_mm, one.tool.diameter_mm)
    return _deep(_wide(one, radial_mm), axial_mm)


def _held(typed_mm: float | None, proposed_mm: float, most_mm: float) -> float | None:
    """What is cut with: None where the proposed value stays and the tool is up to it."""
    wanted = proposed_mm if typed_mm is None else typed_mm
    if typed_mm is None and wanted <= most_mm + SAME_MM:
        return None
    return min(wanted, most_mm)


def _deep(one: Operation, axial_mm: float | None) -> Operation:
    if axial_mm is None or axial_mm <= 0:
        return one
    if one.depth_mm > 0 and one.kind not in (OperationKind.FLOORS, OperationKind.SURFACE):
        axial_mm = min(axial_mm, one.depth_mm)
    is_layered = one.kind in LAYERED or (one.kind is OperationKind.ROUGH and one.volume_mm3 <= 0)
    passes = max(1, ceil(one.depth_mm / axial_mm - 1e-9)) if is_layered else one.passes
    return replace(one, axial_mm=axial_mm, passes=passes)


def _wide(one: Operation, radial_mm: float | None) -> Operation:
    if radial_mm is None or radial_mm <= 0:
        return one
    before = one.radial_mm or radial_mm
    match one.kind:
        case OperationKind.FACE:
            rows = max(1, ceil((one.width_mm or before * one.count) / radial_mm - 1e-9))
            return replace(one, radial_mm=radial_mm, count=rows, length_mm=one.length_mm / one.count * rows)
        case OperationKind.ROUGH if one.volume_mm3 <= 0:
            standing = one.width_mm or before
            rounds = max(1, ceil(standing / radial_mm - 1e-9))
            return replace(one, radial_mm=min(radial_mm, standing), length_mm=one.length_mm * rounds)
        case OperationKind.FLOORS | OperationKind.SURFACE:
            return replace(one, radial_mm=radial_mm, length_mm=one.length_mm * before / radial_mm)
        case OperationKind.BORE | OperationKind.COUNTERBORE:
            return replace(one, radial_mm=radial_mm, ring_mm=radial_mm)
    return replace(one, radial_mm=radial_mm)


def cautions(
    planned: Operation, timed: Operation, axial_mm: float | None, radial_mm: float | None, speeds: Speeds, say: Say
) -> list[str]:
    """What to think about before cutting so, in sentences. planned: as proposed; timed: with the typed pass and speed.

    Axial, radial: as typed, None where nothing was.
    """
    said = []
    if refusal := why_not(planned, axial_mm, radial_mm, say):
        said.append(f"{refusal} The minutes count as much as it can.")
    if axial_mm is not None and has_passes(planned) and 0 < planned.depth_mm < axial_mm - SAME_MM:
        said.append(f"Only {say(planned.depth_mm)} deep is there to cut.")
    is_rough = planned.kind is OperationKind.ROUGH and not refusal
    if radial_mm is not None and is_rough and 0 < timed.radial_mm < radial_mm - SAME_MM:
        said.append(f"Only {say(timed.radial_mm)} wide is there to cut.")
    if _is_deep_slot(timed):
        said.append("It cuts its full width deeper than its own diameter: chips pack and the cutter bends.")
    return [*said, *_set_anew(planned, say), *_over_power(timed, speeds)]


def _set_anew(one: Operation, say: Say) -> list[str]:
    """The review cuts with the diameter that stands in the crib, so a head set anew is typed there."""
    head = one.tool
    if one.kind is not OperationKind.SIZE or head is None or abs(head.diameter_mm - one.width_mm) <= HEAD_SAME_MM:
        return []
    stands, wanted = say(head.diameter_mm), say(one.width_mm)
    return [
        f"T{head.number} stands in the crib at ⌀{stands}: set it to ⌀{wanted} and type that there before the review."
    ]


def _is_deep_slot(one: Operation) -> bool:
    tool = one.tool
    if tool is None or tool.shape not in (ToolShape.FLAT, ToolShape.BULL) or one.kind not in SLOTTING:
        return False
    return one.radial_mm >= FULL_WIDTH * tool.diameter_mm and one.axial_mm > tool.diameter_mm


def _over_power(one: Operation, speeds: Speeds) -> list[str]:
    """What a typed speed and feed take, where that is more than the spindle gives at that speed."""
    machine, speed = speeds.machine, one.speed
    if machine is None or speed is None or machine.power_kw <= 0 or not speed.power_kw > 0:
        return []
    have = float(power.available_kw(machine, speed.rpm))
    if speed.power_kw <= have:
        return []
    return [f"It takes {speed.power_kw:.3g} kW, and {machine.name} has {have:.3g} kW at {speed.rpm:.0f} rpm."]
