"""What speed and feed a tool wants, in which window, limited by what, and where the numbers come from.

One answer for plan and review. A window comes from tables that disagree by two to five times: it says what is in use,
not what is right for one machine, and a tool maker's own data go before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import pi

from shopflow.core.cutting import engagement, power
from shopflow.core.cutting.choosing import chosen_window
from shopflow.core.cutting.groups import UNKNOWN, group_of, names_of
from shopflow.core.cutting.limits import within_feed, within_rpm
from shopflow.core.cutting.pecking import Peck, pecking
from shopflow.core.cutting.rows import DataRow, Window, default_rows
from shopflow.core.types import Machine, Material, Tool, ToolShape, ToolUse

__all__ = ["Cut", "DataRow", "Peck", "Per", "Suggestion", "Window", "default_rows", "pecking", "suggest"]

MM_PER_M = 1000.0
MOST_THINNING = 3.0
"""Feed is never raised further than this for thin chips (common practice, no source)."""
POWER_SHARE = 0.8
"""Share of the spindle's power that a suggestion uses at the most (common practice, no source)."""
LEAST_IN_CUT = 0.1
"""Of a ball or a point that hardly touches, at least this share of the diameter counts for the surface speed."""
KEEPS_ITS_FEED = frozenset({ToolUse.WALL, ToolUse.FLOOR, ToolUse.CHAMFER, ToolUse.DEBURR, ToolUse.FACE})
"""Uses that leave a finished face: thin chips raise what is still inside the window, but not what is suggested."""
ALONG_AXIS = frozenset(
    {ToolUse.DRILL, ToolUse.SPOT, ToolUse.REAM, ToolUse.COUNTERSINK, ToolUse.COUNTERBORE, ToolUse.BORE}
)


class Per(StrEnum):
    """What a feed is counted by."""

    TOOTH = "tooth"
    TURN = "turn"
    PITCH = "pitch"


@dataclass(frozen=True)
class Cut:
    """How deep a tool goes, mm; 0 where it is not known, and then nothing is derived from it.

    axial_mm: along the spindle, of one pass. radial_mm: sideways. depth_mm: of a hole.
    """

    axial_mm: float = 0.0
    radial_mm: float = 0.0
    depth_mm: float = 0.0


@dataclass(frozen=True)
class Suggestion:
    """speed_m_min, feed_mm: as the tables say, feed a tooth or a turn as `per` says.

    rpm, feed_mm_min: what to program. rpm_window, feed_window: mm/min, what is in use, after machine and tool limits: a
    tool that cannot turn as fast as the tables say is not too slow at its limit. feed_window is at `rpm`.
    in_cut_mm: diameter that the surface speed was taken at. thinning: how much the thin chip raised the feed.
    group: of the rows that were used, "" where the material's group is not known. limits: in plain words.
    power_kw, power_share: of a pass at this feed and what the machine has; nan where either is not known.
    """

    use: ToolUse
    group: str
    speed_m_min: Window
    feed_mm: Window
    per: Per
    rpm: float
    rpm_window: Window
    feed_mm_min: float
    feed_window: Window
    in_cut_mm: float
    thinning: float = 1.0
    peck: Peck | None = None
    power_kw: float = float("nan")
    power_share: float = float("nan")
    limits: tuple[str, ...] = ()

    @property
    def is_group_known(self) -> bool:
        return self.group != UNKNOWN

    @property
    def source(self) -> str:
        """Where speed and feed come from, in one sentence without a full stop."""
        if self.speed_m_min.source == self.feed_mm.source:
            return self.speed_m_min.source
        return f"speed: {self.speed_m_min.source}; feed: {self.feed_mm.source}"


NO_CUT = Cut()


def suggest(
    material: Material | None,
    tool: Tool,
    use: ToolUse,
    machine: Machine | None = None,
    *,
    cut: Cut = NO_CUT,
    own: Sequence[DataRow] = (),
    defaults: Sequence[DataRow] | None = None,
    hss_most: float = float("inf"),
) -> Suggestion | None:
    """Speed and feed of a tool for a use in a material, or None where no row says anything (a probe).

    machine: None where it is not known; then only the tool limits. own: the shop's own numbers, which go before
    defaults; defaults: None for those that come with shopflow. hss_most: as pecking takes it. A tap's feed is its pitch
    × rpm; a mill's is tooth × teeth × rpm with thinning by width (D / 2√(ae (D − ae))) and, of a ball, by depth; all
    else feeds by the turn.
    """
    rows = (*own, *(default_rows() if defaults is None else defaults))
    per = _per(tool, use)
    speed = chosen_window(rows, lambda row: row.speed_m_min, material, tool, use)
    feed = _pitch(tool) if per is Per.PITCH else chosen_window(rows, lambda row: row.feed_mm, material, tool, use)
    if speed is None or feed is None or tool.diameter_mm <= 0:
        return None
    in_cut = _in_cut_mm(tool, use, cut)
    turning = within_rpm(speed.times(MM_PER_M / (pi * in_cut)), tool, machine)
    thinning = _thinning(tool, in_cut, cut) if per is Per.TOOTH else 1.0
    raised = 1.0 if use in KEEPS_ITS_FEED else thinning
    plain = feed.times(turning.window.usual * (max(tool.flutes, 1) if per is Per.TOOTH else 1))
    feeding = within_feed(replace(plain, usual=plain.usual * raised, high=plain.high * thinning), machine)
    is_drilled = use is ToolUse.DRILL and cut.depth_mm > 0
    made = Suggestion(
        use=use,
        group=_group(material, own),
        speed_m_min=speed,
        feed_mm=feed,
        per=per,
        rpm=turning.window.usual,
        rpm_window=turning.window,
        feed_mm_min=feeding.window.usual,
        feed_window=feeding.window,
        in_cut_mm=in_cut,
        thinning=raised,
        peck=pecking(tool, material, cut.depth_mm, machine, hss_most=hss_most) if is_drilled else None,
        limits=(*turning.limits, *feeding.limits),
    )
    return _within_power(made, cut, material, machine)


def _group(material: Material | None, own: Sequence[DataRow]) -> str:
    """The known group; else the shop's own word for it, where the shop has numbers of its own under that word."""
    if material is None:
        return UNKNOWN
    names = names_of(material)
    said = next((row.group for row in own if row.group and row.group.casefold() in names), UNKNOWN)
    return group_of(material.group, material.name) or said


def _per(tool: Tool, use: ToolUse) -> Per:
    if tool.shape is ToolShape.TAP:
        return Per.PITCH
    return Per.TURN if use in ALONG_AXIS else Per.TOOTH


def _pitch(tool: Tool) -> Window | None:
    pitch = tool.pitch_mm
    return Window(pitch, pitch, pitch, "the tap's pitch a turn") if pitch > 0 else None


def _in_cut_mm(tool: Tool, use: ToolUse, cut: Cut) -> float:
    """The widest diameter in the cut: of a ball or a chamfer mill's point it depends on the depth."""
    is_pointed = tool.shape is ToolShape.CHAMFER and use in (ToolUse.CHAMFER, ToolUse.DEBURR)
    if cut.axial_mm <= 0 or not (tool.shape is ToolShape.BALL or is_pointed):
        return tool.diameter_mm
    return max(float(engagement.diameter_in_cut(tool, cut.axial_mm)), LEAST_IN_CUT * tool.diameter_mm)


def _thinning(tool: Tool, in_cut_mm: float, cut: Cut) -> float:
    """How much further a tooth may be fed for the same thickest chip: by a narrow cut, and by a ball's shallow one."""
    sideways = float(engagement.thinning_factor(cut.radial_mm, in_cut_mm)) if cut.radial_mm > 0 else 1.0
    upwards = tool.diameter_mm / in_cut_mm if tool.shape is ToolShape.BALL else 1.0
    return min(sideways * upwards, MOST_THINNING)


def _within_power(made: Suggestion, cut: Cut, material: Material | None, machine: Machine | None) -> Suggestion:
    """Less feed where the pass would take more of the spindle's power than a suggestion may."""
    if made.per is not Per.TOOTH or material is None or cut.axial_mm <= 0 or cut.radial_mm <= 0:
        return made
    rate = engagement.removal_rate_cm3_min(cut.axial_mm, cut.radial_mm, made.feed_mm_min)
    needed = float(power.removal_power_kw(rate, material))
    if machine is None or machine.power_kw <= 0:
        return replace(made, power_kw=needed)
    have = float(power.available_kw(machine, made.rpm))
    share = needed / have
    if not share > POWER_SHARE:
        return replace(made, power_kw=needed, power_share=share)
    less = POWER_SHARE / share
    feeds = made.feed_window
    held = replace(feeds, low=min(feeds.low, feeds.usual * less), usual=feeds.usual * less)
    limit = f"the machine's power, {have:.3g} kW"
    return replace(
        made, feed_mm_min=held.usual, feed_window=held, power_kw=needed * less, power_share=POWER_SHARE,
        limits=(*made.limits, limit),
    )  # fmt: skip
