"""When a drill comes up to clear its chips, and how deep it goes between.

Sources disagree: one tool maker's tips start after 2 diameters and call 2 to 3 usual without; a web calculator pecks
from 3 and asks for special drills from 8; an open textbook allows a single pass down to 5.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shopflow.core.cutting.groups import group_of
from shopflow.core.types import Machine, Material, Tool, ToolMaterial

MUST_PAST = 5.0
"""Diameters: past this every source pecks."""
SPECIAL_PAST = 8.0
"""Diameters: past this a source asks for drills made for deep holes."""
GUMMY = frozenset({"aluminium", "magnesium", "plastic", "brass and bronze"})
WORK_HARDENS = frozenset({"stainless steel", "titanium"})
"""A drill that rubs at the bottom hardens what it has to cut next: fewer pecks, and larger ones."""


class PeckStyle(StrEnum):
    PLUNGE = "in one go"
    BREAK = "chips broken, drill kept in the hole"
    CLEAR = "pecked, out of the hole each time"


@dataclass(frozen=True)
class Peck:
    """first_mm, next_mm: depth of the first peck and of those after it, 0 when drilled in one go.

    may_plunge_mm: depth down to which this drill needs no pecks in this material. must_past_mm: depth past which it
    must; inf where coolant comes through the drill. count: pecks down to the depth that was asked about.
    """

    style: PeckStyle
    first_mm: float
    next_mm: float
    may_plunge_mm: float
    must_past_mm: float
    count: int
    why: str


def pecking(
    tool: Tool,
    material: Material | None,
    depth_mm: float,
    machine: Machine | None = None,
    *,
    hss_most: float = float("inf"),
) -> Peck:
    """How to drill this deep. High-speed steel pecks past 3 diameters, or past 4 where chips are short; solid carbide
    breaks its chips past 3, and with coolant through drill and machine it goes down in one.

    hss_most: diameters that the shop lets high-speed steel plunge at the most.
    """
    group = group_of(material.group, material.name) if material else ""
    if _has_coolant_through(tool, machine):
        return _in_one_go(tool, SPECIAL_PAST, float("inf"), "coolant through the drill flushes the chips out")
    limit = plunge_limit(tool, group)
    if tool.material.is_high_speed_steel:
        limit = min(limit, hss_most)
    if depth_mm <= limit * tool.diameter_mm + 1e-9:
        return _in_one_go(tool, limit, MUST_PAST, f"no deeper than {limit:g} diameters")
    first, following = (3.0, 1.5) if group in WORK_HARDENS else (2.0, 1.0)
    is_carbide = tool.material in (ToolMaterial.CARBIDE, ToolMaterial.INSERT)
    is_deep = depth_mm > MUST_PAST * tool.diameter_mm
    style = PeckStyle.BREAK if is_carbide and not is_deep else PeckStyle.CLEAR
    if is_deep and group not in WORK_HARDENS:
        following = 0.5
    first_mm, next_mm = first * tool.diameter_mm, following * tool.diameter_mm
    count = 1 + max(0, -int(-(depth_mm - first_mm) // next_mm))
    why = f"{depth_mm / tool.diameter_mm:.1f} diameters deep, and past {limit:g} chips pack"
    if group in WORK_HARDENS:
        why += "; few and large pecks, since the material hardens where a drill rubs"
    return Peck(style, first_mm, next_mm, limit * tool.diameter_mm, MUST_PAST * tool.diameter_mm, count, why)


def plunge_limit(tool: Tool, group: str) -> float:
    """Diameters that a drill goes in one pass."""
    if tool.material in (ToolMaterial.CARBIDE, ToolMaterial.INSERT):
        return 3.0
    return 3.0 if group in GUMMY else 4.0


def _has_coolant_through(tool: Tool, machine: Machine | None) -> bool:
    is_carbide = tool.material in (ToolMaterial.CARBIDE, ToolMaterial.INSERT)
    return is_carbide and tool.through_coolant and (machine is None or machine.through_coolant)


def _in_one_go(tool: Tool, limit: float, must: float, why: str) -> Peck:
    d = tool.diameter_mm
    return Peck(PeckStyle.PLUNGE, 0.0, 0.0, limit * d, must * d, 1, why)
