"""First minutes of a plan: removal by volume, finishing by area, holes one by one. A start, not a promise.

Corrected later by what the shop's own machines really take; a program once read has its own, better time.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shopflow.core.planning.cutting_data import WorkData, drill_feed_mm_min, mill_feed_mm_min, rpm
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.tooling import PickedTool
from shopflow.core.solid.reading import Hole
from shopflow.core.types import Machine, Material, Tool, ToolShape

ROUGH_WIDTH, ROUGH_DEPTH = 0.4, 0.5
"""Radial and axial depth of a roughing pass over the diameter (common practice, no source)."""
FINISH_WIDTH = 0.6
"""Step-over of a floor's last pass over the diameter (common practice, no source)."""
POWER_SHARE = 0.7
"""Share of the spindle's power that a roughing pass may take (common practice, no source)."""
PECK_FROM_DIAMETERS = 3.0
"""Holes deeper than this are pecked (S14, S15: 3 diameters)."""
PECK_COSTS = 1.5
HOLE_APPROACH_MIN = 0.05
"""Rapid to the next hole, down and up (common practice, no source)."""
MM3_PER_CM3 = 1000.0
FALLBACK_MM3_MIN = 5000.0
"""Removal rate where the crib has no mill for it: 5 cm³/min, slow in anything a small mill cuts."""


@dataclass(frozen=True)
class Load:
    """What one setup cuts: volume_mm3 to remove, floor_mm2 and wall_mm2 to finish, its holes."""

    volume_mm3: float
    floor_mm2: float
    wall_mm2: float
    holes: tuple[Hole, ...]


def cutting_minutes(
    load: Load, picked: Sequence[PickedTool], work: WorkData, machine: Machine, material: Material | None
) -> float:
    """Minutes from cycle start to cycle end."""
    mills = [entry.tool for entry in picked if entry.tool.shape in MILLS]
    rough = max(mills, key=lambda tool: tool.diameter_mm, default=None)
    rate = removal_mm3_min(rough, work, machine, material) if rough else FALLBACK_MM3_MIN
    drills = [entry.tool for entry in picked if entry.tool.shape is ToolShape.DRILL]
    return (
        load.volume_mm3 / rate
        + _finish_minutes(load, mills, work, machine)
        + sum(_hole_minutes(hole, drills, rate, work, machine) for hole in load.holes)
        + len(picked) * machine.tool_change_s / 60
    )


MILLS = (ToolShape.FLAT, ToolShape.BULL, ToolShape.FACE)


def removal_mm3_min(tool: Tool, work: WorkData, machine: Machine, material: Material | None) -> float:
    """Width × depth × feed of a roughing pass, held down to what the spindle's power allows."""
    feed = min(mill_feed_mm_min(tool, work, rpm(tool, work, machine.max_rpm)), machine.max_feed_mm_min)
    depth_mm = min(ROUGH_DEPTH * tool.diameter_mm, tool.flute_length_mm or ROUGH_DEPTH * tool.diameter_mm)
    wanted = ROUGH_WIDTH * tool.diameter_mm * depth_mm * feed
    if material is None or material.unit_power_kw_cm3_min <= 0:
        return wanted
    return min(wanted, POWER_SHARE * machine.power_kw / material.unit_power_kw_cm3_min * MM3_PER_CM3)


def _finish_minutes(load: Load, mills: Sequence[Tool], work: WorkData, machine: Machine) -> float:
    """Floors with the largest mill, walls along their area with the smallest, as deep as its flutes reach."""
    if not mills:
        return 0.0
    largest = max(mills, key=lambda tool: tool.diameter_mm)
    smallest = min(mills, key=lambda tool: tool.diameter_mm)
    floors = load.floor_mm2 / (FINISH_WIDTH * largest.diameter_mm * _feed(largest, work, machine))
    walls = load.wall_mm2 / (max(smallest.flute_length_mm, smallest.diameter_mm) * _feed(smallest, work, machine))
    return floors + walls


def _hole_minutes(hole: Hole, drills: Iterable[Tool], rate_mm3_min: float, work: WorkData, machine: Machine) -> float:
    """A drilled hole by its feed, pecks included; one without a drill by its volume."""
    drill = min(drills, key=lambda tool: abs(tool.diameter_mm - hole.diameter_mm), default=None)
    if drill is None or abs(drill.diameter_mm - hole.diameter_mm) > 0.1:
        return HOLE_APPROACH_MIN + 0.785 * hole.diameter_mm**2 * hole.depth_mm / rate_mm3_min
    feed = drill_feed_mm_min(drill, rpm(drill, work, machine.max_rpm))
    minutes = hole.depth_mm / feed
    is_deep = hole.depth_mm > PECK_FROM_DIAMETERS * hole.diameter_mm
    return HOLE_APPROACH_MIN + minutes * (PECK_COSTS if is_deep else 1.0)


def _feed(tool: Tool, work: WorkData, machine: Machine) -> float:
    return min(mill_feed_mm_min(tool, work, rpm(tool, work, machine.max_rpm)), machine.max_feed_mm_min)


def saw_minutes(section_mm2: float, rules: PlanRules) -> float:
    """One cut through a section."""
    return rules.saw_each_min + section_mm2 / 100 / rules.saw_cm2_min


def deburr_minutes(sharp_mm: float, rules: PlanRules) -> float:
    return rules.deburr_each_min + sharp_mm / rules.deburr_mm_min


def inspect_minutes(characteristics: int, rules: PlanRules) -> float:
    return rules.inspect_each_min + characteristics * rules.inspect_characteristic_min


def setup_minutes(tools: int, rules: PlanRules) -> float:
    return rules.setup_min + tools * rules.setup_tool_min
