"""How long an operation takes: from its path, volume or holes, at its own speed and feed.

A start, not a promise: it knows no toolpath. What the shop's own machines really took corrects it (actuals.py), and a
program once read has its own, better time. Shares and links below are common practice with no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, pi

from shopflow.core.cutting.data import Suggestion
from shopflow.core.cutting.pecking import Peck, PeckStyle
from shopflow.core.cutting.time import TYPICAL_MACHINE
from shopflow.core.planning.operations import Operation, OperationKind, Speeds
from shopflow.core.planning.ordering import first_of_each_tool
from shopflow.core.planning.passes import repassed
from shopflow.core.planning.rules import PlanRules
from shopflow.core.types import Machine, Tool

CLEAR_MM = 2.0
"""From where a tool feeds to the material."""
TRAVEL_MM = 50.0
"""From one hole, row or tool to the next, across and as far up."""
ROUGH_AIR = 1.35
"""Ways of a roughing path that cut less than the full pass: entries, corners, links at feed."""
PATH_AIR = 1.1
"""The same along walls, floors and rows, with entering and leaving."""
ENTER_SHARE = 0.5
"""Feed of ramping and plunging in, of the feed sideways."""
PECK_REST_S = 0.2
"""Lost at each reversal of a peck."""
TAP_REVERSE_S = 0.6
"""Stopping and reversing the spindle at the bottom and at the top."""
TAP_RUN_OUT = 3
"""Pitches that a tap goes further than the thread, for its chamfer."""
HELIX_SHARE = 1.9
"""Width of the first helix over the mill's diameter, at most: more would leave a core."""
RING_WIDTH, RING_DEPTH = 0.4, 0.75
"""Of the rings round it, over the diameter."""
APPROACH_S = 2.0
"""From the tool in the spindle to its first cut, and back to where it is changed."""


@dataclass(frozen=True)
class Typed:
    """What a person fixed about an operation; None where nothing. peck_mm: first and next, (0, 0) for none at all.

    axial_mm, radial_mm: depth and width of a pass.
    """

    rpm: float | None = None
    feed_mm_min: float | None = None
    peck_mm: tuple[float, float] | None = None
    axial_mm: float | None = None
    radial_mm: float | None = None

    def peck(self, depth_mm: float) -> Peck | None:
        return None if self.peck_mm is None else typed_peck(*self.peck_mm, depth_mm)


def timed(operation: Operation, speeds: Speeds, typed: Typed | None = None) -> Operation:
    """With passes, speed, feed and minutes; without a tool or without a machine there are no minutes."""
    operation = repassed(operation, *((typed.axial_mm, typed.radial_mm) if typed else (None, None)))
    speed = speeds.of(operation)
    if speed is not None and typed is not None:
        speed = at_typed(speed, typed.rpm, typed.feed_mm_min, typed.peck(operation.depth_mm))
    if speed is None or operation.tool is None or speeds.machine is None:
        return replace(operation, speed=speed)
    return replace(operation, speed=speed, minutes=operation_minutes(operation, operation.tool, speed, speeds.machine))


def operation_minutes(operation: Operation, tool: Tool, speed: Suggestion, machine: Machine) -> float:
    """Minutes from where the tool is over its first cut to where it leaves the last."""
    feed = max(speed.feed_mm_min, 1e-6)
    if operation.is_milled_round:
        return operation.count * (_round_min(operation, tool, feed, machine) + _hop_min(machine))
    match operation.kind:
        case OperationKind.ROUGH if operation.volume_mm3 > 0:
            return _roughed_min(operation, tool, feed)
        case OperationKind.DRILL | OperationKind.SPOT | OperationKind.COUNTERSINK | OperationKind.COUNTERBORE:
            return operation.count * (_plunged_min(operation, speed, machine) + _hop_min(machine))
        case OperationKind.REAM:
            return operation.count * (2 * (operation.depth_mm + CLEAR_MM) / feed + _hop_min(machine))
        case OperationKind.SIZE:
            deep = operation.depth_mm + CLEAR_MM
            return operation.count * (deep / feed + _rapid_min(deep, machine) + _hop_min(machine))
        case OperationKind.THREAD | OperationKind.GROOVE:
            return operation.count * (_turned_min(operation, feed, machine) + _hop_min(machine))
        case OperationKind.TAP:
            deep = operation.depth_mm + TAP_RUN_OUT * tool.pitch_mm + CLEAR_MM
            return operation.count * (2 * deep / feed + TAP_REVERSE_S / 60 + _hop_min(machine))
    return _along_min(operation, feed, machine)


def at_typed(speed: Suggestion, rpm: float | None, feed_mm_min: float | None, peck: Peck | None) -> Suggestion:
    """With what a person typed over what was suggested; None where nothing was typed.

    A feed that was suggested goes with the speed: half as fast, half the feed, so that a tooth takes the same.
    """
    made = speed
    if rpm is not None:
        made = replace(made, rpm=rpm, feed_mm_min=made.feed_mm_min * rpm / max(made.rpm, 1e-6))
    if feed_mm_min is not None:
        made = replace(made, feed_mm_min=feed_mm_min)
    made = replace(made, power_kw=speed.power_kw * made.feed_mm_min / max(speed.feed_mm_min, 1e-6))
    return made if peck is None else replace(made, peck=peck)


def typed_peck(first_mm: float, next_mm: float, depth_mm: float) -> Peck:
    """Pecks as a person wants them; a first one of 0 is none at all."""
    if first_mm <= 0:
        return Peck(PeckStyle.PLUNGE, 0.0, 0.0, depth_mm, depth_mm, 1, "as typed")
    following = next_mm if next_mm > 0 else first_mm
    count = 1 + max(0, ceil((depth_mm - first_mm) / following - 1e-9))
    return Peck(PeckStyle.CLEAR, first_mm, following, 0.0, 0.0, count, "as typed")


def _roughed_min(operation: Operation, tool: Tool, feed: float) -> float:
    """Volume over width × depth × feed."""
    rate = max(operation.axial_mm * operation.radial_mm * feed, 1e-6)
    layers = max(1.0, operation.depth_mm / operation.axial_mm) if operation.axial_mm > 0 else 1.0
    enters = operation.count * layers * 2 * tool.diameter_mm / (ENTER_SHARE * feed)
    return ROUGH_AIR * operation.volume_mm3 / rate + enters


def _along_min(operation: Operation, feed: float, machine: Machine) -> float:
    """The length of one pass, as often as it is cut, with a hop for every place."""
    cut = PATH_AIR * operation.length_mm * operation.passes / feed
    return cut + operation.count * operation.passes * _hop_min(machine)


def _plunged_min(operation: Operation, speed: Suggestion, machine: Machine) -> float:
    """Down by feed, up by rapid; with pecks also up and down between them."""
    deep = operation.depth_mm + CLEAR_MM
    minutes = deep / speed.feed_mm_min + _rapid_min(deep, machine)
    peck = speed.peck
    if peck is None or peck.count <= 1:
        return minutes
    between = sum(min(peck.first_mm + n * peck.next_mm, operation.depth_mm) for n in range(peck.count - 1))
    rests = (peck.count - 1) * PECK_REST_S / 60
    return minutes + 2 * between / machine.rapid_mm_min[2] + rests


def _round_min(operation: Operation, tool: Tool, feed: float, machine: Machine) -> float:
    """A helix down, rings outwards in layers where the hole is much wider than the mill, and once round at its wall.

    The centre of a mill of ⌀d goes slower than its edge in a hole of ⌀D, by (D − d) / D. Where the blank has a hole
    that the mill goes into, it begins with rings round that.
    """
    own, deep = tool.diameter_mm, operation.depth_mm
    wide = max(operation.width_mm, own * 1.02)
    enters = operation.cored_mm > own
    helix_wide = min(wide, operation.cored_mm if enters else HELIX_SHARE * own)
    turns = deep / operation.axial_mm + 1 if operation.axial_mm > 0 else 1.0
    helix = 0.0 if enters else turns * pi * helix_wide / feed
    layer, ring = min(deep, RING_DEPTH * own), operation.ring_mm or RING_WIDTH * own
    rings = ROUGH_AIR * pi / 4 * (wide**2 - helix_wide**2) * deep / (layer * ring * feed)
    around = pi * wide / feed * max(1.0, deep / (tool.flute_length_mm or deep))
    return helix + rings + around + _rapid_min(deep + CLEAR_MM, machine)


def _turned_min(operation: Operation, feed: float, machine: Machine) -> float:
    """As often round in the hole as its passes say, and half a turn each to enter and to leave.

    The feed counts at the wall, which is cut: once round takes π D / F.
    """
    around = pi * operation.width_mm / feed
    return (operation.passes + 1) * around + 2 * _rapid_min(operation.depth_mm + CLEAR_MM, machine)


def _hop_min(machine: Machine) -> float:
    """To the next place: up, across and down, each from rest to rest."""
    return 2 * _rapid_min(CLEAR_MM, machine) + _rapid_min(TRAVEL_MM, machine, axis=0)


def _rapid_min(way_mm: float, machine: Machine, axis: int = 2) -> float:
    """T = d / v + v / a, or 2 √(d / a) where the rapid is never reached; minutes."""
    speed, rise = machine.rapid_mm_min[axis] / 60, machine.acceleration_mm_s2[axis]
    if speed <= 0 or rise <= 0:
        return _rapid_min(way_mm, TYPICAL_MACHINE, axis)
    seconds = 2 * (way_mm / rise) ** 0.5 if way_mm < speed**2 / rise else way_mm / speed + speed / rise
    return seconds / 60


def changing_minutes(operations: Sequence[Operation], machine: Machine) -> float:
    """Changing tools, starting the spindle, and going from the change to the first cut and back."""
    changed = first_of_each_tool(operations)
    starts = sum(machine.spindle_start_s * one.speed.rpm / machine.max_rpm for one in changed if one.speed is not None)
    return (len(changed) * (machine.tool_change_s + APPROACH_S) + starts) / 60


def cutting_minutes(operations: Sequence[Operation], machine: Machine | None) -> float | None:
    """Minutes from cycle start to cycle end; None without a machine. What has no tool yet counts nothing."""
    if machine is None:
        return None
    return sum(one.minutes or 0.0 for one in operations) + changing_minutes(operations, machine)


def saw_minutes(section_mm2: float, rules: PlanRules) -> float:
    """One cut through a section."""
    return rules.saw_each_min + section_mm2 / 100 / rules.saw_cm2_min


def deburr_minutes(sharp_mm: float, rules: PlanRules) -> float:
    """By hand: what no setup breaks on the machine."""
    return rules.deburr_each_min + sharp_mm / rules.deburr_mm_min


def inspect_minutes(measurements: float, rules: PlanRules) -> float:
    """A piece's part of the inspection. measurements: of a piece, on the average of the lot, as it is sampled."""
    return rules.inspect_each_min + measurements * rules.inspect_characteristic_min
