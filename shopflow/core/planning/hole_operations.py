"""Holes of one setup: spotted, drilled, bored, opened at the mouth, reamed or tapped."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from math import pi, radians, tan

from shopflow.core.planning import picking
from shopflow.core.planning.hole_finish import Way, grooves, of_hole, threaded, to_size
from shopflow.core.planning.holes import SAME_MM, HoleGroup, group_holes
from shopflow.core.planning.minutes import RING_WIDTH
from shopflow.core.planning.needs import hole_words
from shopflow.core.planning.operations import Operation, OperationKind, Wanted
from shopflow.core.planning.rules import PlanRules
from shopflow.core.planning.side_work import SideWork
from shopflow.core.planning.soft import is_soft
from shopflow.core.solid import Thread, guess_by_major, thread_of
from shopflow.core.solid.reading import Hole
from shopflow.core.types import Material, Tool, ToolUse

SPOT_DEPTH = 0.5
"""Of a spot over the hole's diameter: a cone of 90° as wide as the hole (common practice, no source)."""
DEFAULT_SINK_DEG = 90.0
RAMP_DEG = {True: 5.0, False: 2.0}
RAMP_SHARE = {True: 0.4, False: 0.2}
"""Of a helix in soft materials and in others: its angle, and the most depth of a turn over the mill's diameter (common
practice, no source)."""


class ThreadsShown(StrEnum):
    """At which diameter a model shows its threads."""

    NOT_SAID = ""
    MINOR = "minor"
    MAJOR = "major"


@dataclass(frozen=True)
class SizeLimits:
    """A diameter of the drawing with its limits, mm, as a person typed them."""

    nominal_mm: float
    lower_mm: float
    upper_mm: float

    def is_of(self, hole: Hole) -> bool:
        """Whether the model has it so: at its nominal size, or anywhere within the limits."""
        inside = self.lower_mm - SAME_MM <= hole.diameter_mm <= self.upper_mm + SAME_MM
        return inside or abs(hole.diameter_mm - self.nominal_mm) <= SAME_MM


@dataclass(frozen=True)
class HoleFacts:
    """What is known of holes beyond the model's sizes.

    threads: how the model shows its threads, where somebody said so. tolerance_mm: by face, the whole width of the
    tolerance on the diameter, where the file says one. typed: limits from the drawing. cored: by their faces, the
    diameter of the hole that the blank has there already.
    """

    threads: ThreadsShown = ThreadsShown.NOT_SAID
    tolerance_mm: Mapping[int, float] = field(default_factory=dict)
    typed: Sequence[SizeLimits] = ()
    cored: Mapping[tuple[int, ...], float] = field(default_factory=dict)

    def of(self, hole: Hole) -> float | None:
        """The narrowest tolerance on its diameter; None where nobody said one."""
        said = [self.tolerance_mm[face] for face in hole.faces if face in self.tolerance_mm]
        said += [limits.upper_mm - limits.lower_mm for limits in self.typed if limits.is_of(hole)]
        return min(said, default=None)

    def thread(self, hole: Hole) -> Thread | None:
        """The thread in a hole; of sizes that two threads share, the nearest."""
        if self.threads is ThreadsShown.MINOR:
            return thread_of(hole.thread_guess)
        return thread_of(guess_by_major(hole.diameter_mm)) if self.threads is ThreadsShown.MAJOR else None

    def bore_mm(self, hole: Hole) -> float:
        """What is drilled: the tap drill where the model shows the thread at its major diameter."""
        thread = self.thread(hole)
        return thread.drill_mm if thread and self.threads is ThreadsShown.MAJOR else hole.diameter_mm


def drilling(
    work: SideWork, crib: Sequence[Tool], rules: PlanRules, facts: HoleFacts, material: Material | None = None
) -> list[Operation]:
    """The operations of a setup's holes; equal holes are one."""
    made = [one for group in _groups(work.holes, facts) for one in _hole(group, crib, rules, facts)]
    for group in group_holes(work.far):
        made += _mouth(group, crib, rules, family_of(group) + " far", is_far=True)
    soft = is_soft(material)
    return [_ramped(one, soft=soft) for one in made]


def _ramped(one: Operation, *, soft: bool) -> Operation:
    """With the depth of one turn where an end mill goes round: π (D − d) tan of the ramp's angle."""
    if one.tool is None or not one.is_milled_round:
        return one
    own = one.tool.diameter_mm
    turn = pi * max(one.width_mm - own, 0.0) * tan(radians(RAMP_DEG[soft]))
    return replace(one, axial_mm=min(turn, RAMP_SHARE[soft] * own, one.depth_mm) or 0.01)


def _groups(holes: Sequence[Hole], facts: HoleFacts) -> Iterator[HoleGroup]:
    """Equal holes, those that the blank has apart by what it has."""
    apart: dict[float, list[Hole]] = {}
    for hole in holes:
        apart.setdefault(round(facts.cored.get(hole.faces, 0.0), 2), []).append(hole)
    for same in apart.values():
        yield from group_holes(tuple(same))


def family_of(group: HoleGroup, cored_mm: float = 0.0) -> str:
    hole = group.first
    end = "through" if hole.through else hole.bottom
    wide = "".join(
        f" {kind}{size:.3f}"
        for kind, size in (("cb", hole.counterbore_mm), ("cs", hole.countersink_mm), ("core", cored_mm))
        if size
    )
    return f"hole {hole.diameter_mm:.3f} {hole.depth_mm:.3f} {end}{wide}"


def _hole(group: HoleGroup, crib: Sequence[Tool], rules: PlanRules, facts: HoleFacts) -> Iterator[Operation]:
    hole, cored_mm = group.first, facts.cored.get(group.first.faces, 0.0)
    family = family_of(group, cored_mm)
    thread, tolerance = facts.thread(hole), facts.of(hole)
    is_close = thread is None and tolerance is not None and tolerance < rules.ream_tolerance_mm
    way = to_size(hole, crib, rules) if is_close else None
    yield from _bore(group, crib, rules, family, facts.bore_mm(hole), way, cored_mm)
    yield from _mouth(group, crib, rules, family)
    yield from grooves(group, crib, rules, family)
    what = f"{group.count} × {hole_words(hole, rules)}"
    if way is not None:
        need = f"{way.called} ⌀{rules.say(hole.diameter_mm)} that reaches {rules.say(hole.depth_mm)} deep"
        yield of_hole(way.kind, family, what, way.tool, need, group)
    if thread is not None:
        yield threaded(group, crib, rules, family, thread, facts.bore_mm(hole))


def _bore(
    group: HoleGroup,
    crib: Sequence[Tool],
    rules: PlanRules,
    family: str,
    bore_mm: float,
    way: Way | None,
    cored_mm: float = 0.0,
) -> Iterator[Operation]:
    """Down to size with a drill, after a spot where it would wander; without a drill, round with an end mill.

    cored_mm: of the blank's own hole, in which a drill would follow the core: it is milled true.
    """
    hole = replace(group.first, diameter_mm=bore_mm)
    what = f"{group.count} × {hole_words(hole, rules)}"
    if cored_mm:
        what += f", cored {rules.say(cored_mm)}"
    low, high = bore_mm - rules.drill_size_mm, bore_mm + rules.drill_size_mm
    if way is not None:
        low, high = bore_mm - way.less_mm[1], bore_mm - way.less_mm[0]
    is_flat = not hole.through and hole.bottom == "flat"
    drill = picking.drill_for(crib, low, high, hole.depth_mm, is_blind_flat=is_flat or cored_mm > 0)
    if drill is None:
        mills = picking.end_mills(crib, ToolUse.HELICAL, hole.depth_mm)
        mill = picking.largest(mills, hole.diameter_mm * rules.hole_share)
        kind = OperationKind.BORE if mill or is_flat or cored_mm else OperationKind.DRILL
        need = _mill_wanted(hole, rules) if cored_mm else _drill_wanted(hole, rules, (low + high) / 2)
        made = _round(kind, family, what, mill, need, group, high if way else bore_mm, hole.depth_mm)
        yield replace(made, cored_mm=cored_mm)
        return
    if picking.needs_spot(drill):
        spot = picking.spot_drill(crib)
        yield of_hole(OperationKind.SPOT, family, what, spot, "a spot drill", group,
                       depth_mm=SPOT_DEPTH * hole.diameter_mm)  # fmt: skip
    deep = hole.depth_mm + (picking.point_mm(drill) if hole.through else 0.0)
    yield of_hole(OperationKind.DRILL, family, what, drill, "", group, depth_mm=deep)


def _mouth(
    group: HoleGroup, crib: Sequence[Tool], rules: PlanRules, family: str, *, is_far: bool = False
) -> Iterator[Operation]:
    """What is wider at the mouth; is_far: at the other one."""
    hole = group.first
    bore = hole.far_counterbore_mm if is_far else hole.counterbore_mm
    deep = (hole.far_counterbore_depth_mm if is_far else hole.counterbore_depth_mm) or 0.0
    sink = hole.far_countersink_mm if is_far else hole.countersink_mm
    if bore is not None:
        what = f"{group.count} × counterbore ⌀{rules.say(bore)}, {rules.say(deep)} deep"
        tool = picking.counterbore(crib, bore, deep, rules)
        need = f"a counterbore ⌀{rules.say(bore)} or an end mill under it, {rules.say(deep)} deep"
        if tool is not None and tool.shape in picking.END_MILLS:
            yield _round(OperationKind.COUNTERBORE, family, what, tool, need, group, bore, deep)
        else:
            yield of_hole(OperationKind.COUNTERBORE, family, what, tool, need, group, depth_mm=deep, width_mm=bore)
    if sink is not None:
        angle = (hole.far_countersink_angle_deg if is_far else hole.countersink_angle_deg) or DEFAULT_SINK_DEG
        what = f"{group.count} × countersink ⌀{rules.say(sink)}, {angle:.4g}°"
        need = f"a countersink of {angle:.4g}°, at least ⌀{rules.say(sink)}"
        tool = picking.countersink(crib, sink, angle)
        deep = max(sink - hole.diameter_mm, 0.0) / 2
        yield of_hole(OperationKind.COUNTERSINK, family, what, tool, need, group, depth_mm=deep, width_mm=sink)


def _round(
    kind: OperationKind,
    family: str,
    what: str,
    mill: Tool | None,
    need: str,
    group: HoleGroup,
    width_mm: float,
    depth_mm: float,
) -> Operation:
    """A hole milled round, down in a helix."""
    own = mill.diameter_mm if mill else 0.0
    return Operation(
        kind, f"{kind} {family}", what, mill, None if mill else Wanted(need, what), family=family, count=group.count,
        depth_mm=depth_mm, width_mm=width_mm, radial_mm=RING_WIDTH * own,
    )  # fmt: skip


def _mill_wanted(hole: Hole, rules: PlanRules) -> str:
    return f"an end mill under ⌀{rules.say(hole.diameter_mm)} that reaches {rules.say(hole.depth_mm)} deep"


def _drill_wanted(hole: Hole, rules: PlanRules, size_mm: float) -> str:
    if hole.bottom == "flat" and not hole.through:
        return _mill_wanted(hole, rules)
    return f"a drill of ⌀{rules.say(size_mm)} that reaches {rules.say(hole.depth_mm)} deep"
