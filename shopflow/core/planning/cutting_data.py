"""First speeds and feeds by kind of work material: starting values for a plan's minutes, not for a program.

Published tables differ by two to five times, so each value is one inside the ranges printed there. Surface speeds in
m/min (high-speed steel, carbide), and feed a tooth as a share of the cutter's diameter. Sources: S01 US Navy training
manual 14345; S02 handout of speeds and feeds; S04 speed chart for steel; S05 an end mill maker's guidelines; S06 an end
mill chart; S07, S08 insert makers' catalogues; S10 a plastics maker's guidelines. Where no source is named for a value,
it is from memory of such tables. Drill feed a revolution: S01, lower half of the range for each size of drill.
"""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.core.types import Tool, ToolMaterial

M_PER_MM = 0.001
PI = 3.141592653589793


@dataclass(frozen=True)
class WorkData:
    """hss_m_min, carbide_m_min: surface speed. tooth_share: feed a tooth over the diameter. words: name parts."""

    words: tuple[str, ...]
    hss_m_min: float
    carbide_m_min: float
    tooth_share: float
    source: str


TABLE = (
    WorkData(("alumin",), 75.0, 300.0, 0.008, "S01 61 to 91, S05 244 to 457; S05 0.1016 at 12.7"),
    WorkData(("brass", "bronze"), 70.0, 250.0, 0.006, "S01 61 to 91, S05 244 to 457; S05 0.0762 at 12.7"),
    WorkData(("stainless",), 12.0, 60.0, 0.003, "S01 9 to 12, S07 40 to 100; S06 0.0381 at 12.7"),
    WorkData(("titanium",), 12.5, 50.0, 0.002, "S02 12 to 18, S06 15 to 76; S06 0.0254 at 12.7"),
    WorkData(("tool steel",), 18.0, 70.0, 0.003, "S02 18, S04 61 to 107; feed from memory"),
    WorkData(("alloy steel", "medium carbon"), 21.0, 122.0, 0.005, "S01 21 to 24, S04 122 to 198; feed from memory"),
    WorkData(("steel",), 25.0, 90.0, 0.006, "S01 24 to 34, S06 31 to 91; S06 0.0762 at 12.7"),
    WorkData(("cast iron",), 22.0, 70.0, 0.008, "S01 21 to 46; carbide from memory; S06 0.1016 at 12.7"),
    WorkData(("plastic", "acetal", "nylon"), 60.0, 200.0, 0.012, "S10 and memory 152 to 305; S05 0.1524 at 12.7"),
)
"""The first row with a word in the material's group or name counts, so special steels stand before plain steel."""

UNKNOWN = WorkData((), 20.0, 60.0, 0.003, "slow enough for most steels; the material's group is not known")

DRILL_FEEDS_MM = ((3.175, 0.035), (6.35, 0.07), (12.7, 0.13), (25.4, 0.25), (float("inf"), 0.45))
"""S01, in/rev: to 1/8 in 0.001 to 0.002, to 1/4 in 0.002 to 0.004, to 1/2 in 0.004 to 0.007, to 1 in 0.007 to 0.015."""


def work_data(group: str, name: str = "") -> WorkData:
    """The row for a work material by its group, else by its name; UNKNOWN where neither is in the table."""
    for text in (group.lower(), name.lower()):
        found = next((row for row in TABLE if any(word in text for word in row.words)), None)
        if found:
            return found
    return UNKNOWN


def rpm(tool: Tool, work: WorkData, max_rpm: float) -> float:
    """Spindle speed for the surface speed, within what machine and tool allow."""
    is_carbide = tool.material in (ToolMaterial.CARBIDE, ToolMaterial.INSERT)
    speed_m_min = work.carbide_m_min if is_carbide else work.hss_m_min
    wanted = speed_m_min / M_PER_MM / (PI * tool.diameter_mm)
    limits = [limit for limit in (max_rpm, tool.max_rpm) if limit > 0]
    return min([wanted, *limits])


def mill_feed_mm_min(tool: Tool, work: WorkData, speed_rpm: float) -> float:
    """Feed a tooth × teeth × speed; a large cutter's tooth takes no more than that of 20 mm."""
    tooth_mm = work.tooth_share * min(tool.diameter_mm, 20.0)
    return tooth_mm * max(tool.flutes, 1) * speed_rpm


def drill_feed_mm_min(tool: Tool, speed_rpm: float) -> float:
    per_turn = next(feed for largest, feed in DRILL_FEEDS_MM if tool.diameter_mm <= largest)
    return per_turn * speed_rpm
