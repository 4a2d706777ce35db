"""Finds holes: everything hollow and round on one axis that drills, counterbores and countersinks leave behind."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from shopflow.core.solid.features import threads
from shopflow.core.solid.features.axes import TOUCHING_MM, Axis, Band, inside_axes
from shopflow.core.solid.features.sight import Sight
from shopflow.core.solid.graph import SMOOTH_DEG, Face, Graph, Vector, cross, dot, minus, norm
from shopflow.core.solid.values import Hole, HoleStep

ATTACHED_SHARE = 0.55
"""A band that goes round this much of the turn belongs to a whole bore beside it: a counterbore that breaks out."""
POINT_MM = 0.05
"""A cone that ends in less than this diameter ends in a point."""
_PARALLEL = 0.002


@dataclass
class Stack:
    """Bands on one axis that belong to one hole, sorted from low to high."""

    axis: Axis
    bands: list[Band] = field(default_factory=list)

    @property
    def low(self) -> float:
        return min(band.low for band in self.bands)

    @property
    def high(self) -> float:
        return max(band.high for band in self.bands)

    @property
    def faces(self) -> list[int]:
        return sorted(face for band in self.bands for face in band.faces)

    @property
    def bores(self) -> list[Band]:
        return [band for band in self.bands if band.kind == "cylinder" and band.is_full]


@dataclass(frozen=True)
class End:
    """One end of a stack. kind: "open", "flat", "pointed" or "round". outwards: direction out of the hole here."""

    height: float
    kind: str
    outwards: Vector


def find(graph: Graph, sight: Sight | None = None) -> list[Hole]:
    """Holes of the model. Without sight, reach stays empty and bores across a gap on one axis are joined unseen."""
    holes = []
    for axis in inside_axes(graph):
        for stack in _joined_across_gaps(graph, _stacks(graph, axis), sight):
            hole = _hole(graph, stack, sight)
            if hole:
                holes.append(hole)
    return sorted(holes, key=lambda hole: (hole.solid, hole.diameter_mm, hole.position_mm))


def _stacks(graph: Graph, axis: Axis) -> list[Stack]:
    """Bands that touch, or meet at a shoulder, put together; those without any whole bore are no holes."""
    left = [band for band in axis.bands if band.share >= ATTACHED_SHARE]
    stacks = []
    while left:
        stack = Stack(axis, [left.pop(0)])
        grown = True
        while grown:
            joined = [band for band in left if any(_meet(graph, axis, band, other) for other in stack.bands)]
            left = [band for band in left if band not in joined]
            stack.bands += joined
            grown = bool(joined)
        stack.bands.sort(key=lambda band: (band.low, band.high))
        if stack.bores:
            stacks.append(stack)
    return stacks


def _meet(graph: Graph, axis: Axis, one: Band, other: Band) -> bool:
    """Whether two bands share an edge, or a shoulder square to the axis joins them."""
    if one.low > other.high + TOUCHING_MM or other.low > one.high + TOUCHING_MM:
        return False
    around = graph.touching(one.faces)
    if around & set(other.faces):
        return True
    shared = around & graph.touching(other.faces)
    return any(_is_shoulder(graph, axis, graph.faces[face], one, other) for face in shared)


def _is_shoulder(graph: Graph, axis: Axis, face: Face, one: Band, other: Band) -> bool:
    if face.kind != "plane" or norm(cross(face.normal, axis.direction)) > _PARALLEL:
        return False
    edges = [edge for edge in graph.edges_of[face.index] if edge.other(face.index) in (*one.faces, *other.faces)]
    return any(edge.turn_deg < SMOOTH_DEG for edge in edges)


def _joined_across_gaps(graph: Graph, stacks: list[Stack], sight: Sight | None) -> list[Stack]:
    """Stacks of one bore size that look at each other across a free gap (a fork, a crossing bore) made one."""
    stacks = sorted(stacks, key=lambda stack: stack.low)
    joined: list[Stack] = []
    for stack in stacks:
        before = joined[-1] if joined else None
        if before and _is_one_bore(graph, before, stack, sight):
            before.bands += stack.bands
        else:
            joined.append(stack)
    return joined


def _is_one_bore(graph: Graph, before: Stack, stack: Stack, sight: Sight | None) -> bool:
    radius = min(band.radius for band in before.bores)
    if abs(radius - min(band.radius for band in stack.bores)) > TOUCHING_MM:
        return False
    if _end(graph, before, high=True).kind != "open" or _end(graph, stack, high=False).kind != "open":
        return False
    start, gap = before.axis.at(before.high), stack.low - before.high
    return sight is None or sight.corridor_is_clear(start, before.axis.direction, 0.9 * radius, gap)


def _end(graph: Graph, stack: Stack, *, high: bool) -> End:
    """What closes the stack at one end."""
    height = stack.high if high else stack.low
    outwards = stack.axis.direction if high else minus(stack.axis.direction)
    last = [band for band in stack.bands if abs((band.high if high else band.low) - height) < TOUCHING_MM]
    narrowest = min(last, key=lambda band: band.radius_high if high else band.radius_low)
    radius = narrowest.radius_high if high else narrowest.radius_low
    if 2 * radius < POINT_MM:
        return End(height, "round" if narrowest.kind == "sphere" else "pointed", outwards)
    floors = _floors(graph, stack, height, outwards)
    return End(height, "flat" if floors else "open", outwards)


def _floors(graph: Graph, stack: Stack, height: float, outwards: Vector) -> list[Face]:
    """Planes that close an end: they look back into the hole, at its height, from inside its corner."""
    floors = []
    for face in stack.faces:
        for edge, beyond in graph.neighbours(face):
            looks_back = beyond.kind == "plane" and dot(beyond.normal, outwards) < -1 + _PARALLEL
            is_here = looks_back and abs(stack.axis.height(beyond.origin) - height) < TOUCHING_MM
            if is_here and edge.turn_deg < SMOOTH_DEG:
                floors.append(beyond)
    return floors


def _is_ring(graph: Graph, stack: Stack, end: End) -> bool:
    """Whether a boss stands on the floor, on the same axis: a ring groove and no hole."""
    for floor in _floors(graph, stack, end.height, end.outwards):
        for _, beyond in graph.neighbours(floor.index):
            if beyond.kind in ("cylinder", "cone") and not beyond.concave and stack.axis.carries(beyond):
                return True
    return False


def _hole(graph: Graph, stack: Stack, sight: Sight | None) -> Hole | None:
    """The hole that a stack is; None when it is closed all round, or a ring groove."""
    stack.bands.sort(key=lambda band: (band.low, band.high))
    ends = (_end(graph, stack, high=False), _end(graph, stack, high=True))
    opened = [end for end in ends if end.kind == "open"]
    if not opened or any(end.kind == "flat" and _is_ring(graph, stack, end) for end in ends):
        return None
    free = [end for end in opened if sight and _is_free(stack, end, sight)]
    mouth = max(opened, key=lambda end: _mouth_rank(stack, end, end in free))
    bottom = ends[0] if mouth is ends[1] else ends[1]
    return _described(graph, stack, mouth, bottom, tuple(end.outwards for end in free))


def _is_free(stack: Stack, end: End, sight: Sight) -> bool:
    """Whether a tool of the hole's own size gets to this end from outside; it starts just inside the mouth."""
    radius = min(band.radius for band in stack.bores)
    return sight.corridor_is_clear(stack.axis.at(end.height), end.outwards, radius)


def _mouth_rank(stack: Stack, end: End, is_free: bool) -> tuple[float, ...]:
    """The end that a hole is made from: the reachable one, the wider one, then the one that looks up."""
    at_end = [
        band for band in stack.bands if min(abs(band.low - end.height), abs(band.high - end.height)) < TOUCHING_MM
    ]
    widest = max((_radius_at(band, end.height) for band in at_end), default=0.0)
    x, y, z = end.outwards
    return (float(is_free), round(widest, 3), round(z, 6), round(y, 6), round(x, 6))


def _reaches(band: Band, height: float) -> bool:
    return min(abs(band.low - height), abs(band.high - height)) < TOUCHING_MM


def _radius_at(band: Band, height: float) -> float:
    return band.radius_low if abs(band.low - height) < abs(band.high - height) else band.radius_high


def _described(graph: Graph, stack: Stack, mouth: End, bottom: End, reach: tuple[Vector, ...]) -> Hole:
    steps = _steps(stack, mouth)
    bore = min((step for step in steps if step.kind == "cylinder"), key=lambda step: step.from_diameter_mm)
    through = bottom.kind == "open"
    last = steps[-1]
    has_point = bottom.kind in ("pointed", "round")
    near = _mouth_features(steps, bore)
    far = _mouth_features(_reversed(steps), bore) if through else _MouthFeatures()
    return Hole(
        solid=graph.faces[stack.faces[0]].solid,
        diameter_mm=bore.from_diameter_mm,
        depth_mm=last.from_mm if has_point else last.to_mm,
        through=through,
        axis=mouth.outwards,
        position_mm=stack.axis.at(mouth.height),
        bottom="through" if through else bottom.kind,
        point_angle_deg=_included_deg(last) if bottom.kind == "pointed" else None,
        countersink_mm=near.countersink_mm,
        countersink_angle_deg=near.countersink_angle_deg,
        counterbore_mm=near.counterbore_mm,
        counterbore_depth_mm=near.counterbore_depth_mm,
        far_countersink_mm=far.countersink_mm,
        far_countersink_angle_deg=far.countersink_angle_deg,
        far_counterbore_mm=far.counterbore_mm,
        far_counterbore_depth_mm=far.counterbore_depth_mm,
        steps=tuple(steps),
        reach=reach,
        faces=tuple(stack.faces),
        thread_guess=threads.guess(bore.from_diameter_mm),
    )


_KINDS = {"cylinder": "cylinder", "cone": "cone", "torus": "blend", "sphere": "blend"}


def _steps(stack: Stack, mouth: End) -> list[HoleStep]:
    """The bands from the mouth inwards, with depths from the mouth; pieces of one bore across a gap are one step."""
    upside = mouth.height == stack.high
    steps: list[HoleStep] = []
    for band in sorted(stack.bands, key=lambda band: -band.high if upside else band.low):
        ends = (band.high, band.radius_high, band.low, band.radius_low)
        first, first_radius, last, last_radius = ends if upside else (*ends[2:], *ends[:2])
        step = HoleStep(
            _KINDS[band.kind], abs(mouth.height - first), abs(mouth.height - last), 2 * first_radius, 2 * last_radius
        )
        before = steps[-1] if steps else None
        if before and before.kind == step.kind == "cylinder" and _is_same_bore(before, step):
            steps[-1] = HoleStep("cylinder", before.from_mm, step.to_mm, before.from_diameter_mm, step.to_diameter_mm)
        else:
            steps.append(step)
    return steps


def _is_same_bore(one: HoleStep, other: HoleStep) -> bool:
    return abs(one.from_diameter_mm - other.from_diameter_mm) < TOUCHING_MM


def _reversed(steps: list[HoleStep]) -> list[HoleStep]:
    """The steps as seen from the other mouth."""
    depth = steps[-1].to_mm
    return [
        HoleStep(step.kind, depth - step.to_mm, depth - step.from_mm, step.to_diameter_mm, step.from_diameter_mm)
        for step in reversed(steps)
    ]


def _included_deg(step: HoleStep) -> float:
    """Included angle of a conical step."""
    return 2 * math.degrees(math.atan2(abs(step.from_diameter_mm - step.to_diameter_mm) / 2, step.to_mm - step.from_mm))


@dataclass(frozen=True)
class _MouthFeatures:
    countersink_mm: float | None = None
    countersink_angle_deg: float | None = None
    counterbore_mm: float | None = None
    counterbore_depth_mm: float | None = None


def _mouth_features(steps: Iterable[HoleStep], bore: HoleStep) -> _MouthFeatures:
    """What is wider than the bore between a mouth and the bore: a cone that opens at the mouth, a wider cylinder."""
    before: list[HoleStep] = []
    for step in steps:
        if step.kind == "cylinder" and abs(step.from_diameter_mm - bore.from_diameter_mm) < TOUCHING_MM:
            break
        before.append(step)
    sink = before[0] if before and before[0].kind == "cone" else None
    if sink and sink.from_diameter_mm <= sink.to_diameter_mm:
        sink = None
    wider = max((step for step in before if step.kind == "cylinder"), key=lambda s: s.from_diameter_mm, default=None)
    return _MouthFeatures(
        sink.from_diameter_mm if sink else None,
        _included_deg(sink) if sink else None,
        wider.from_diameter_mm if wider else None,
        wider.to_mm if wider else None,
    )
